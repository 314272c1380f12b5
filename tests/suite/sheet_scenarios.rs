//! What is recomputed, one scenario a test: after each edit the cells that were evaluated, in
//! order, and those of them and of the inputs that are now another.

use crate::sheet_support::{cell, names, sheet};
use semilunar::formula::notation;
use semilunar::quantity::Reading;
use semilunar::sheet::{Asked, Edit, EditError, Sheet};

const EXAM: &str = "
    use hemodynamics
    height = 170 cm
    weight = 70 kg
    lvot_diameter = 2.0 cm
    lvot_vti = 20 cm
    heart_rate = 70 /min
    mean_pressure = 93 mm[Hg]
    central_venous_pressure = 5 mm[Hg]
";

/// Two lines: what was evaluated, and what changed.
fn told(sheet: &Sheet, edit: &Edit) -> String {
    let line = |cells| names(sheet, cells).join(" ");
    let text = format!(
        "evaluated: {}\nchanged: {}",
        line(&edit.recomputed),
        line(&edit.changed)
    );
    text.lines()
        .map(str::trim_end)
        .collect::<Vec<_>>()
        .join("\n")
}

#[track_caller]
fn set(sheet: &mut Sheet, name: &str, reading: &str) -> String {
    let edit = sheet.set_text(name, reading).unwrap().clone();
    told(sheet, &edit)
}

fn redefine(sheet: &mut Sheet, name: &str, formula: &str) -> Result<String, EditError> {
    let parsed = notation::formula(formula, 0).unwrap();
    let asked: Vec<Asked> = parsed
        .names
        .iter()
        .zip(parsed.formula.operands())
        .map(|(name, facet)| Asked {
            cell: (name != notation::OWN_READING).then(|| cell(sheet, name)),
            facet: *facet,
        })
        .collect();
    let edit = sheet
        .redefine(cell(sheet, name), parsed.formula, &asked)?
        .clone();
    Ok(told(sheet, &edit))
}

#[track_caller]
fn is(found: String, expected: &str) {
    let lines: Vec<&str> = expected.trim().lines().map(str::trim).collect();
    assert_eq!(found, lines.join("\n"), "\nfound:\n{found}\n");
}

#[test]
fn setting_the_diameter_leaves_body_surface_area_alone() {
    let mut sheet = sheet(EXAM);
    is(set(&mut sheet, "lvot_diameter", "2.1 cm"), "
            evaluated: lvot_diameter lvot_area stroke_volume stroke_volume_index cardiac_output cardiac_index systemic_vascular_resistance systemic_vascular_resistance_index total_peripheral_resistance stroke_volume_per_pulse_pressure arterial_elastance cardiac_power_output cardiac_power_index
            changed: lvot_diameter lvot_area stroke_volume stroke_volume_index cardiac_output cardiac_index systemic_vascular_resistance systemic_vascular_resistance_index total_peripheral_resistance cardiac_power_output cardiac_power_index
            ");
}

#[test]
fn the_same_reading_again_goes_no_further_than_its_cell() {
    let mut sheet = sheet(EXAM);
    is(
        set(&mut sheet, "heart_rate", "70 /min"),
        "
            evaluated:
            changed:
            ",
    );
    is(
        set(&mut sheet, "lvot_vti", "200 mm"),
        "
            evaluated: lvot_vti
            changed:
            ",
    );
}

#[test]
fn another_uncertainty_is_restated_and_changes_nothing() {
    let mut sheet = sheet(EXAM);
    is(
        set(&mut sheet, "heart_rate", "70 /min (u = 2 /min)"),
        "
            evaluated:
            changed:
            ",
    );
    assert_eq!(names(&sheet, &sheet.last_edit().restated), ["heart_rate"]);
}

#[test]
fn a_clamp_stops_the_wave() {
    let mut sheet = sheet(
        "reading_in = 3\nheld = clamp(reading_in, 0, 2)\ndoubled = 2 * held\nother = reading_in + 1",
    );
    is(
        set(&mut sheet, "reading_in", "4"),
        "
            evaluated: held other
            changed: reading_in other
            ",
    );
    is(
        set(&mut sheet, "reading_in", "1"),
        "
            evaluated: held doubled other
            changed: reading_in held doubled other
            ",
    );
}

#[test]
fn a_diamond_is_evaluated_once_with_both_sides_new() {
    let mut sheet = sheet("top = 1\nleft = top + 1\nright = top * 2\nbottom = left * right");
    is(
        set(&mut sheet, "top", "5"),
        "
            evaluated: left right bottom
            changed: top left right bottom
            ",
    );
    assert_eq!(sheet.value(cell(&sheet, "bottom")), Some(60.0));
}

#[test]
fn a_long_way_round_is_waited_for() {
    let mut sheet = sheet("a = 1\nsum = a + d\nd = c + 1\nc = b + 1\nb = a + 1");
    is(
        set(&mut sheet, "a", "2"),
        "
            evaluated: b c d sum
            changed: a b c d sum
            ",
    );
    assert_eq!(sheet.value(cell(&sheet, "sum")), Some(7.0));
}

#[test]
fn a_changed_reason_travels_even_when_the_state_stays() {
    let mut sheet = sheet("a = ?\nb = ?\nsum = a + b\nfurther = 2 * sum");
    let further = cell(&sheet, "further");
    assert_eq!(
        sheet.because(further),
        ["a has no reading", "b has no reading"]
    );
    is(
        set(&mut sheet, "a", "1"),
        "
            evaluated: sum further
            changed: a sum further
            ",
    );
    assert_eq!(sheet.because(further), ["b has no reading"]);
    is(
        set(&mut sheet, "b", "unobtainable"),
        "
            evaluated: sum further
            changed: b sum further
            ",
    );
    assert_eq!(sheet.because(further), ["b could not be obtained"]);
}

#[test]
fn a_changed_origin_travels_even_when_the_value_stays() {
    let mut sheet = sheet(EXAM);
    is(
        set(&mut sheet, "central_venous_pressure", "5 mm[Hg] assumed"),
        "
            evaluated: systemic_vascular_resistance systemic_vascular_resistance_index
            changed: central_venous_pressure systemic_vascular_resistance systemic_vascular_resistance_index
            ",
    );
}

#[test]
fn a_fault_becomes_another_fault_and_travels() {
    let mut sheet = sheet("a = 0\nb = 1 / a\nc = sqrt(b)\nd = c + 1");
    is(
        set(&mut sheet, "a", "-1"),
        "
            evaluated: b c d
            changed: a b c d
            ",
    );
    let d = cell(&sheet, "d");
    assert_eq!(
        sheet.because(d),
        ["c takes the root of a negative number: `sqrt(b)`"]
    );
}

#[test]
fn more_beats_at_the_same_mean_are_asked_for_and_found() {
    let mut sheet = sheet(
        "use hemodynamics\nrhythm = irregular\nlvot_vti = beats(18, 18) cm\nlvot_diameter = 2 cm",
    );
    is(set(&mut sheet, "lvot_vti", "beats(18, 18, 18) cm"), "
            evaluated: lvot_vti stroke_distance minute_distance stroke_volume stroke_volume_index cardiac_output cardiac_index systemic_vascular_resistance total_peripheral_resistance stroke_volume_per_pulse_pressure arterial_elastance cardiac_power_output cardiac_power_index
            changed: stroke_distance minute_distance stroke_volume stroke_volume_index cardiac_output cardiac_index total_peripheral_resistance stroke_volume_per_pulse_pressure arterial_elastance cardiac_power_output cardiac_power_index
            ");
}

#[test]
fn a_poor_signal_withholds_the_vti_and_all_flow() {
    let mut sheet = sheet(EXAM);
    is(set(&mut sheet, "signal", "poor"), "
            evaluated: lvot_vti stroke_distance minute_distance stroke_volume stroke_volume_index cardiac_output cardiac_index systemic_vascular_resistance systemic_vascular_resistance_index total_peripheral_resistance stroke_volume_per_pulse_pressure arterial_elastance cardiac_power_output cardiac_power_index
            changed: signal lvot_vti stroke_distance minute_distance stroke_volume stroke_volume_index cardiac_output cardiac_index systemic_vascular_resistance systemic_vascular_resistance_index total_peripheral_resistance stroke_volume_per_pulse_pressure arterial_elastance cardiac_power_output cardiac_power_index
            ");
}

#[test]
fn a_branch_not_taken_is_looked_at_and_stops() {
    let mut sheet =
        sheet("which = 1\na = 10\nb = 20\nchosen = if which > 0 then a else b\nafter = chosen + 1");
    is(
        set(&mut sheet, "b", "30"),
        "
            evaluated: chosen
            changed: b
            ",
    );
    is(
        set(&mut sheet, "which", "-1"),
        "
            evaluated: chosen after
            changed: which chosen after
            ",
    );
}

#[test]
fn a_fallback_that_is_not_needed_stops() {
    let mut sheet = sheet("first = 1\nsecond = 2\neither = first else second\nafter = either * 10");
    is(
        set(&mut sheet, "second", "3"),
        "
            evaluated: either
            changed: second
            ",
    );
    is(
        set(&mut sheet, "first", "?"),
        "
            evaluated: either after
            changed: first either after
            ",
    );
}

#[test]
fn a_reading_on_a_derived_cell_takes_precedence_until_it_is_unknown_again() {
    let mut sheet = sheet("a = 1\nb = a + 1\nc = b * 10");
    is(
        set(&mut sheet, "b", "7"),
        "
            evaluated: b c
            changed: b c
            ",
    );
    is(
        set(&mut sheet, "a", "3"),
        "
            evaluated: b
            changed: a
            ",
    );
    is(
        set(&mut sheet, "b", "?"),
        "
            evaluated: b c
            changed: b c
            ",
    );
    assert_eq!(sheet.value(cell(&sheet, "c")), Some(40.0));
}

#[test]
fn a_batch_is_one_wave() {
    let mut sheet = sheet(EXAM);
    let readings = [
        ("lvot_vti", "22 cm"),
        ("heart_rate", "60 /min"),
        ("lvot_vti", "21 cm"),
    ];
    let batch: Vec<_> = readings
        .iter()
        .map(|(name, text)| (cell(&sheet, name), notation::reading(text, 0).unwrap()))
        .collect();
    let edit = sheet.set_all(batch).unwrap().clone();
    is(told(&sheet, &edit), "
            evaluated: lvot_vti stroke_distance minute_distance stroke_volume stroke_volume_index cardiac_output cardiac_index systemic_vascular_resistance systemic_vascular_resistance_index total_peripheral_resistance stroke_volume_per_pulse_pressure arterial_elastance cardiac_power_output cardiac_power_index
            changed: heart_rate lvot_vti stroke_distance minute_distance stroke_volume stroke_volume_index cardiac_output cardiac_index systemic_vascular_resistance systemic_vascular_resistance_index total_peripheral_resistance cardiac_power_output cardiac_power_index
            ");
}

#[test]
fn a_batch_with_one_misfit_changes_nothing() {
    let mut sheet = sheet(EXAM);
    let before = sheet.to_json();
    let batch = [("heart_rate", "60 /min"), ("lvot_vti", "22 s")];
    let batch: Vec<_> = batch
        .iter()
        .map(|(name, text)| (cell(&sheet, name), notation::reading(text, 0).unwrap()))
        .collect();
    let refused = sheet.set_all(batch).unwrap_err();
    assert_eq!(
        refused.to_string(),
        "`lvot_vti` is in cm; a reading in s does not fit"
    );
    assert_eq!(sheet.to_json(), before);
}

#[test]
fn an_unobtainable_diameter_lets_the_estimate_stand_in() {
    let mut sheet = sheet(EXAM);
    is(set(&mut sheet, "lvot_diameter", "unobtainable"), "
            evaluated: lvot_diameter lvot_area stroke_volume stroke_volume_index cardiac_output cardiac_index systemic_vascular_resistance systemic_vascular_resistance_index total_peripheral_resistance stroke_volume_per_pulse_pressure arterial_elastance cardiac_power_output cardiac_power_index
            changed: lvot_diameter lvot_area stroke_volume stroke_volume_index cardiac_output cardiac_index systemic_vascular_resistance systemic_vascular_resistance_index total_peripheral_resistance cardiac_power_output cardiac_power_index
            ");
    let stroke_volume = cell(&sheet, "stroke_volume");
    assert_eq!(sheet.origin(stroke_volume).unwrap().word(), "estimated");
    is(set(&mut sheet, "lvot_diameter", "?"), "
            evaluated: lvot_diameter lvot_area stroke_volume stroke_volume_index cardiac_output cardiac_index systemic_vascular_resistance systemic_vascular_resistance_index total_peripheral_resistance stroke_volume_per_pulse_pressure arterial_elastance cardiac_power_output cardiac_power_index
            changed: lvot_diameter lvot_area stroke_volume stroke_volume_index cardiac_output cardiac_index systemic_vascular_resistance systemic_vascular_resistance_index total_peripheral_resistance stroke_volume_per_pulse_pressure arterial_elastance cardiac_power_output cardiac_power_index
            ");
}

#[test]
fn one_shared_reading_moves_both_exams_and_never_its_own_change() {
    let mut sheet = sheet(
        "use hemodynamics as before\nuse hemodynamics as after\ncompare before, after\n\
         lvot_diameter = 2 cm\nbefore.lvot_vti = 18 cm\nafter.lvot_vti = 20 cm",
    );
    is(set(&mut sheet, "lvot_diameter", "2.2 cm"), "
            evaluated: before.lvot_diameter before.lvot_area before.stroke_volume before.stroke_volume_index before.cardiac_output before.stroke_volume_per_pulse_pressure before.arterial_elastance after.lvot_diameter after.lvot_area after.stroke_volume after.stroke_volume_index after.cardiac_output after.stroke_volume_per_pulse_pressure after.arterial_elastance change.lvot_diameter difference.lvot_diameter change.lvot_area difference.lvot_area change.stroke_volume difference.stroke_volume
            changed: lvot_diameter before.lvot_diameter before.lvot_area before.stroke_volume after.lvot_diameter after.lvot_area after.stroke_volume change.stroke_volume difference.stroke_volume
            ");
}

#[test]
fn redefining_evaluates_the_cell_and_what_follows() {
    let mut sheet = sheet(EXAM);
    let told = redefine(
        &mut sheet,
        "body_surface_area",
        "body_surface_area_mosteller",
    );
    is(told.unwrap(), "
            evaluated: body_surface_area lvot_diameter_from_body_size lvot_diameter stroke_volume_index cardiac_index systemic_vascular_resistance_index cardiac_power_index
            changed: body_surface_area lvot_diameter_from_body_size stroke_volume_index cardiac_index systemic_vascular_resistance_index cardiac_power_index
            ");
}

#[test]
fn redefining_turns_the_order_of_two_cells_around() {
    let mut sheet = sheet("a = 1\nfirst = a + 1\nsecond = first + 1\nlast = first + second");
    redefine(&mut sheet, "first", "a * 5").unwrap();
    redefine(&mut sheet, "second", "a + 2").unwrap();
    let told = redefine(&mut sheet, "first", "second * 10").unwrap();
    is(
        told,
        "
            evaluated: first last
            changed: first last
            ",
    );
    is(
        set(&mut sheet, "a", "2"),
        "
            evaluated: second first last
            changed: a second first last
            ",
    );
    assert_eq!(sheet.value(cell(&sheet, "last")), Some(44.0));
}

#[test]
fn a_circle_is_refused_with_its_path_and_the_sheet_stays() {
    let mut sheet = sheet("a = 1\nb = a + 1\nc = b + 1\nd = c + 1");
    let before = sheet.to_json();
    let refused = redefine(&mut sheet, "b", "d * 2").unwrap_err();
    assert_eq!(refused.to_string(), "this would be a circle: b → d → c → b");
    let refused = redefine(&mut sheet, "a", "a + 1").unwrap_err();
    assert_eq!(refused.to_string(), "this would be a circle: a → a");
    assert_eq!(sheet.to_json(), before);
    is(
        set(&mut sheet, "a", "2"),
        "
            evaluated: b c d
            changed: a b c d
            ",
    );
}

#[test]
fn a_used_cell_is_not_removed_and_an_unused_one_is() {
    let mut sheet = sheet("a = 1\nb = a + 1\nc = a * b");
    let (a, b, c) = (cell(&sheet, "a"), cell(&sheet, "b"), cell(&sheet, "c"));
    assert_eq!(
        sheet.remove(a).unwrap_err().to_string(),
        "`a` is used by b, c"
    );
    sheet.remove(c).unwrap();
    assert_eq!(sheet.remove(c), Err(EditError::ForeignHandle));
    is(
        set(&mut sheet, "a", "2"),
        "
            evaluated: b
            changed: a b
            ",
    );
    sheet.remove(b).unwrap();
    sheet.remove(a).unwrap();
    assert!(sheet.is_empty());
}

#[test]
fn a_cell_that_advice_asks_about_is_not_removed() {
    let mut sheet = sheet("use hemodynamics");
    let gate = cell(&sheet, "gate_position");
    assert_eq!(
        sheet.remove(gate).unwrap_err().to_string(),
        "`gate_position` is used by stroke_volume"
    );
}

#[test]
fn a_renamed_cell_is_called_by_its_new_name_everywhere() {
    let mut sheet = sheet("a = ?\nb = a + 1");
    let (a, b) = (cell(&sheet, "a"), cell(&sheet, "b"));
    sheet.rename(a, "first_reading").unwrap();
    assert_eq!(sheet.formula_text(b).unwrap(), "first_reading + 1");
    assert_eq!(sheet.because(b), ["first_reading has no reading"]);
    assert_eq!(sheet.label(a), "first reading");
    assert_eq!(sheet.cell("a"), None);
    is(
        set(&mut sheet, "first_reading", "1"),
        "
            evaluated: b
            changed: first_reading b
            ",
    );
}

#[test]
fn a_handle_of_another_sheet_is_refused_everywhere() {
    let mut sheet = sheet("a = 1");
    let other = crate::sheet_support::sheet("b = 2");
    let b = cell(&other, "b");
    assert_eq!(sheet.value(b), None);
    assert_eq!(sheet.state(b), None);
    assert_eq!(sheet.name(b), "an unnamed cell");
    let refused = Err(EditError::ForeignHandle);
    assert_eq!(sheet.set(b, Reading::unknown()).cloned(), refused);
    assert_eq!(sheet.remove(b), Err(EditError::ForeignHandle));
    assert_eq!(sheet.rename(b, "c"), Err(EditError::ForeignHandle));
}
