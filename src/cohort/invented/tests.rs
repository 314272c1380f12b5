use std::fs;
use std::path::Path;

use super::*;

fn csv_of(plan: &Plan) -> String {
    let mut bytes = Vec::new();
    generate(plan).unwrap().write_csv(&mut bytes).unwrap();
    String::from_utf8(bytes).unwrap()
}

fn small() -> Plan {
    Plan {
        patients: 30,
        challenges: 70,
        repeats: 10,
        faults: Faults {
            text_in_number: 4,
            impossible_value: 4,
            millimeters: 2,
        },
        ..Plan::fluid_challenges()
    }
}

/// FNV-1a of 64 bits (public domain; offset basis and prime from the authors' page, from memory).
fn fingerprint(text: &str) -> u64 {
    text.bytes().fold(0xcbf2_9ce4_8422_2325, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
    })
}

#[test]
fn the_same_seed_gives_the_same_bytes_and_another_seed_others() {
    let first = csv_of(&small());
    assert_eq!(first, csv_of(&small()));
    assert_ne!(first, csv_of(&Plan { seed: 8, ..small() }));
}

#[test]
fn the_fingerprint_is_the_published_one() {
    // FNV-1a of "a" is af63dc4c8601ec8c (test vectors of the FNV authors, from memory).
    assert_eq!(fingerprint("a"), 0xaf63_dc4c_8601_ec8c);
}

/// Pins the bytes across machines and versions: whoever changes the model changes the bundled files, and says so here.
#[test]
fn the_first_lines_are_known() {
    let text = csv_of(&Plan::fluid_challenges());
    let lines: Vec<&str> = text.lines().take(20).collect();
    assert_eq!(
        fingerprint(&lines.join("\n")),
        FIRST_LINES,
        "the bundled cohort has changed; its first lines are now\n{}",
        lines.join("\n")
    );
}

const FIRST_LINES: u64 = 0x5a1e_8a4c_1f72_914d;

/// With SEMILUNAR_WRITE_DATA set, writes the files first; then, as always, compares.
#[test]
fn the_bundled_files_are_what_their_plans_make() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("data");
    for (name, plan) in [
        ("fluid_challenges.csv", Plan::fluid_challenges()),
        ("first_cohort.csv", Plan::first_cohort()),
    ] {
        let invented = csv_of(&plan);
        if std::env::var_os("SEMILUNAR_WRITE_DATA").is_some() {
            fs::write(folder.join(name), &invented).unwrap();
        }
        let bundled = fs::read_to_string(folder.join(name)).unwrap();
        assert!(
            bundled == invented,
            "data/{name} is not what its plan makes; run this test with SEMILUNAR_WRITE_DATA=1 to write it again"
        );
    }
}

#[test]
fn counts_are_those_of_the_plan() {
    for plan in [Plan::fluid_challenges(), Plan::first_cohort(), small()] {
        let cohort = generate(&plan).unwrap();
        let of = |purpose: Purpose| {
            cohort
                .rows
                .iter()
                .filter(|row| row.purpose == purpose)
                .count()
        };
        assert_eq!(of(Purpose::Fluid), plan.challenges);
        assert_eq!(of(Purpose::RepeatWithoutFluid), plan.repeats);
        assert_eq!(of(Purpose::PassiveLegRaise) > 0, plan.leg_raise_rows);
        let mut patients: Vec<usize> = cohort.rows.iter().map(|row| row.patient).collect();
        patients.dedup();
        assert_eq!(patients, (1..=plan.patients).collect::<Vec<usize>>());
        assert_eq!(
            cohort.planted(Fault::TextInNumber),
            plan.faults.text_in_number
        );
        assert_eq!(
            cohort.planted(Fault::ImpossibleValue),
            plan.faults.impossible_value
        );
        assert_eq!(cohort.planted(Fault::Millimeters), plan.faults.millimeters);
    }
}

#[test]
fn a_unit_that_must_give_the_most_does_so() {
    let plan = Plan {
        patients: 5,
        challenges: 5 * MOST_CHALLENGES_PER_PATIENT,
        repeats: 0,
        ..Plan::first_cohort()
    };
    let cohort = generate(&plan).unwrap();
    for patient in 1..=5 {
        assert_eq!(
            cohort
                .rows
                .iter()
                .filter(|row| row.patient == patient)
                .count(),
            MOST_CHALLENGES_PER_PATIENT
        );
    }
}

#[test]
fn weights_volumes_and_minutes_stay_in_their_ranges() {
    for row in generate(&Plan::fluid_challenges()).unwrap().rows {
        assert!(
            row.weight
                .is_none_or(|weight| (45.0..=140.0).contains(&weight))
        );
        match row.purpose {
            Purpose::Fluid => {
                assert!(
                    row.fluid_given
                        .is_none_or(|volume| (100.0..=1000.0).contains(&volume))
                );
                assert!(
                    row.minutes_after_fluid
                        .is_none_or(|minutes| (0.0..=45.0).contains(&minutes))
                );
            }
            Purpose::RepeatWithoutFluid | Purpose::PassiveLegRaise => {
                assert_eq!(row.fluid_given, Some(0.0));
                assert_eq!(row.minutes_after_fluid, None);
            }
        }
    }
}

#[test]
fn only_planted_cells_are_absurd() {
    for row in generate(&Plan::fluid_challenges()).unwrap().rows {
        for exam in [row.before, row.after] {
            assert!(
                exam.lvot_vti.is_none_or(|vti| (4.0..=45.0).contains(&vti)),
                "{row:?}"
            );
            assert!(
                exam.heart_rate
                    .is_none_or(|rate| (30.0..=200.0).contains(&rate)),
                "{row:?}"
            );
            if let (Some(systolic), Some(diastolic)) =
                (exam.systolic_pressure, exam.diastolic_pressure)
            {
                assert!(
                    systolic > diastolic && diastolic >= 20.0 && systolic < 220.0,
                    "{row:?}"
                );
            }
        }
        if let SharedDiameter::Measured(centimeters) = row.lvot_diameter {
            assert!((1.3..=3.2).contains(&centimeters), "{row:?}");
        }
    }
}

#[test]
fn planted_cells_replace_the_reading_and_nothing_else() {
    let cohort = generate(&small()).unwrap();
    let spoiled = cohort
        .rows
        .iter()
        .filter(|row| row.planted.is_some())
        .count();
    assert_eq!(spoiled, small().faults.total());
    for row in &cohort.rows {
        let Some(planted) = &row.planted else {
            continue;
        };
        let clean = Row {
            planted: None,
            ..row.clone()
        }
        .cells();
        let different: Vec<&str> = (0..COLUMNS.len())
            .filter(|place| clean[*place] != row.cells()[*place])
            .map(|place| COLUMNS[place])
            .collect();
        assert_eq!(different, [planted.column]);
        let number: Option<f64> = planted.text.parse().ok();
        match planted.fault {
            Fault::TextInNumber => assert_eq!(number, None),
            Fault::ImpossibleValue => assert!(number.unwrap() < 0.0 || number.unwrap() >= 120.0),
            Fault::Millimeters => assert!((13.0..=32.0).contains(&number.unwrap())),
        }
    }
}

#[test]
fn true_stroke_volume_stays_below_the_plateau_and_flat_hearts_gain_less() {
    let cohort = generate(&Plan {
        late_share: 0.0,
        ..Plan::fluid_challenges()
    })
    .unwrap();
    let (mut steep, mut flat) = (Vec::new(), Vec::new());
    for row in cohort
        .rows
        .iter()
        .filter(|row| row.purpose == Purpose::Fluid)
    {
        assert!(
            row.truth.stroke_volume_before < row.truth.plateau
                && row.truth.stroke_volume_after < row.truth.plateau
        );
        if row.truth.preload_before < 0.8 {
            steep.push(row.truth.change());
        } else if row.truth.preload_before > 2.0 {
            flat.push(row.truth.change());
        }
    }
    let mean = |changes: &[f64]| changes.iter().sum::<f64>() / changes.len() as f64;
    assert!(steep.len() > 30 && flat.len() > 20);
    assert!(
        mean(&steep) > 20.0 && mean(&flat) < 8.0,
        "{} and {}",
        mean(&steep),
        mean(&flat)
    );
}

#[test]
fn late_exams_miss_the_effect() {
    let change = |late_share: f64| {
        let rows = generate(&Plan {
            late_share,
            ..Plan::fluid_challenges()
        })
        .unwrap()
        .rows;
        let changes: Vec<f64> = rows
            .iter()
            .filter(|row| row.purpose == Purpose::Fluid)
            .map(|row| row.truth.change())
            .collect();
        changes.iter().sum::<f64>() / changes.len() as f64
    };
    assert!(change(1.0) < 0.7 * change(0.0));
}

#[test]
fn the_sick_have_more_missing() {
    let rows = generate(&Plan::fluid_challenges()).unwrap().rows;
    let missing = |row: &&Row| {
        let readings = [
            row.before.heart_rate,
            row.after.heart_rate,
            row.before.lvot_vti,
        ];
        let pressures = [row.before.systolic_pressure, row.after.systolic_pressure];
        readings
            .iter()
            .chain(&pressures)
            .filter(|reading| reading.is_none())
            .count() as f64
    };
    let mean_missing = |sick: bool| {
        let group: Vec<&Row> = rows
            .iter()
            .filter(|row| (row.truth.severity > 0.0) == sick)
            .collect();
        group.iter().map(missing).sum::<f64>() / group.len() as f64
    };
    // Odds double with each standard deviation and the halves are 1.6 apart, so a factor of three is expected.
    assert!(mean_missing(true) > 1.8 * mean_missing(false));
}

#[test]
fn without_missingness_nothing_measurable_is_blank() {
    let plan = Plan {
        missingness: 0.0,
        unobtainable_share: 0.0,
        remeasured_share: 0.0,
        ..small()
    };
    for row in generate(&plan).unwrap().rows {
        assert!(
            row.height.is_some()
                && row.weight.is_some()
                && row.rhythm.is_some()
                && row.diameter_convention.is_some()
        );
        assert!(
            row.before.lvot_vti.is_some()
                && row.after.lvot_vti.is_some()
                && row.after.diastolic_pressure.is_some()
        );
        assert!(matches!(row.lvot_diameter, SharedDiameter::Measured(_)));
    }
}

#[test]
fn faults_without_room_are_refused() {
    let plan = Plan {
        unobtainable_share: 0.0,
        remeasured_share: 1.0,
        faults: Faults {
            text_in_number: 0,
            impossible_value: 0,
            millimeters: 3,
        },
        ..small()
    };
    assert_eq!(
        generate(&plan).unwrap_err().to_string(),
        "the plan asks for 3 rows with a diameter in millimeters, and only 0 rows can carry it; ask for fewer, or for more challenges"
    );
}

/// tests/oracles/cohort.py recomputes the bundled files with pandas; its counts must be those of the generator.
#[test]
fn the_summary_by_other_means_counts_the_same() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/oracles/cohort.json");
    let summary: serde_json::Value =
        serde_json::from_str(&fs::read_to_string(path).unwrap()).unwrap();
    for (place, plan) in [Plan::fluid_challenges(), Plan::first_cohort()]
        .into_iter()
        .enumerate()
    {
        let cohort = generate(&plan).unwrap();
        let seen = &summary[place];
        assert_eq!(seen["rows"], cohort.rows.len());
        assert_eq!(seen["patients"], plan.patients);
        assert_eq!(seen["purposes"]["fluid"], plan.challenges);
        assert_eq!(
            seen["set_aside"]["text_in_number"],
            plan.faults.text_in_number
        );
        assert_eq!(
            seen["set_aside"]["impossible_value"],
            plan.faults.impossible_value
        );
        assert_eq!(seen["set_aside"]["millimeters"], plan.faults.millimeters);
        assert_eq!(seen["used"], cohort.rows.len() - plan.faults.total());
        let rates: Vec<f64> = cohort
            .rows
            .iter()
            .filter(|row| row.purpose == Purpose::Fluid && row.planted.is_none())
            .filter_map(|row| row.before.heart_rate)
            .collect();
        let mean = rates.iter().sum::<f64>() / rates.len() as f64;
        // The summary keeps six digits.
        assert!((seen["heart_rate_before"]["mean"].as_f64().unwrap() - mean).abs() < 1e-3);
        assert_eq!(seen["heart_rate_before"]["n"], rates.len());
    }
}
