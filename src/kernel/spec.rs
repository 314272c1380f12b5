//! The kernelspec: what front ends read to find and start the kernel.
//!
//! "Making kernels for Jupyter", section "Kernel specs"
//! (jupyter-client.readthedocs.io/en/stable/kernels.html).

use std::fs;
use std::path::{Path, PathBuf};

use serde_json::{Value, json};

use super::KernelError;

/// Where a kernelspec is put.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Place {
    /// For the person at the keyboard: the data folder of Jupyter in their home.
    User,
    /// For an environment: `share/jupyter` under its folder.
    Prefix(PathBuf),
}

/// Our own drawings: a half moon.
const LOGOS: &[(&str, &[u8])] = &[
    ("logo-svg.svg", include_bytes!("logo/logo-svg.svg")),
    ("logo-32x32.png", include_bytes!("logo/logo-32x32.png")),
    ("logo-64x64.png", include_bytes!("logo/logo-64x64.png")),
];

/// Puts the kernelspec in its place, over an earlier one of ours, and gives its folder. `program`
/// is what front ends will start.
///
/// # Errors
/// [`KernelError::File`], [`KernelError::NoHome`], [`KernelError::NotOurs`].
pub fn install(place: &Place, program: &Path) -> Result<PathBuf, KernelError> {
    let folder = folder(place)?;
    if folder.exists() && !is_ours(&folder)? {
        return Err(KernelError::NotOurs(folder));
    }
    in_file(&folder, |folder| fs::create_dir_all(folder))?;
    let spec = json!({
        "argv": [program.to_string_lossy(), "kernel", "start", "{connection_file}"],
        "display_name": "semilunar",
        "language": "semilunar",
        "interrupt_mode": "message",
        "metadata": {"debugger": false},
    });
    for (name, bytes) in LOGOS {
        in_file(&folder.join(name), |file| fs::write(file, bytes))?;
    }
    let text = format!("{spec:#}\n");
    in_file(&folder.join("kernel.json"), |file| fs::write(file, &text))?;
    Ok(folder)
}

/// Removes the kernelspec from its place, and gives the folder that it was in.
///
/// # Errors
/// [`KernelError::NotInstalled`], [`KernelError::NotOurs`], [`KernelError::File`].
pub fn remove(place: &Place) -> Result<PathBuf, KernelError> {
    let folder = folder(place)?;
    if !folder.exists() {
        return Err(KernelError::NotInstalled(folder));
    }
    if !is_ours(&folder)? {
        return Err(KernelError::NotOurs(folder));
    }
    for name in LOGOS.iter().map(|(name, _)| *name).chain(["kernel.json"]) {
        let file = folder.join(name);
        if file.exists() {
            in_file(&file, |file| fs::remove_file(file))?;
        }
    }
    // A folder with something else in it stays.
    in_file(&folder, |folder| fs::remove_dir(folder))?;
    Ok(folder)
}

fn folder(place: &Place) -> Result<PathBuf, KernelError> {
    let data = match place {
        Place::Prefix(prefix) => prefix.join("share").join("jupyter"),
        Place::User => user_data().ok_or(KernelError::NoHome)?,
    };
    Ok(data.join("kernels").join("semilunar"))
}

/// Jupyter's data folder of a person: "Jupyter's common directories and file locations".
fn user_data() -> Option<PathBuf> {
    let given = |name: &str| std::env::var_os(name).filter(|v| !v.is_empty());
    if let Some(folder) = given("JUPYTER_DATA_DIR") {
        return Some(PathBuf::from(folder));
    }
    if cfg!(windows) {
        return Some(PathBuf::from(given("APPDATA")?).join("jupyter"));
    }
    let home = PathBuf::from(given("HOME")?);
    if cfg!(target_os = "macos") {
        return Some(home.join("Library").join("Jupyter"));
    }
    let data = given("XDG_DATA_HOME").map_or(home.join(".local").join("share"), PathBuf::from);
    Some(data.join("jupyter"))
}

/// Whether a folder holds a kernelspec of ours, or nothing.
fn is_ours(folder: &Path) -> Result<bool, KernelError> {
    let file = folder.join("kernel.json");
    if !file.exists() {
        let mut entries = in_file(folder, |folder| fs::read_dir(folder))?;
        return Ok(entries.next().is_none());
    }
    let text = in_file(&file, |file| fs::read_to_string(file))?;
    let spec: Value = serde_json::from_str(&text).unwrap_or_default();
    Ok(spec["language"] == "semilunar" && spec["argv"][1] == "kernel")
}

fn in_file<T>(
    path: &Path,
    work: impl FnOnce(&Path) -> std::io::Result<T>,
) -> Result<T, KernelError> {
    work(path).map_err(|source| KernelError::File {
        path: path.to_owned(),
        source,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_spec_goes_in_over_an_earlier_one_and_out_again() {
        let prefix = tempfile::tempdir().unwrap();
        let place = Place::Prefix(prefix.path().to_owned());
        let folder = install(&place, Path::new("/one/semilunar")).unwrap();
        assert_eq!(
            folder,
            prefix.path().join("share/jupyter/kernels/semilunar")
        );
        install(&place, Path::new("/two/semilunar")).unwrap();
        let text = fs::read_to_string(folder.join("kernel.json")).unwrap();
        let spec: Value = serde_json::from_str(&text).unwrap();
        assert_eq!(
            spec["argv"],
            json!(["/two/semilunar", "kernel", "start", "{connection_file}"])
        );
        assert_eq!(remove(&place).unwrap(), folder);
        assert!(matches!(remove(&place), Err(KernelError::NotInstalled(_))));
    }

    #[test]
    fn the_spec_of_something_else_stays() {
        let prefix = tempfile::tempdir().unwrap();
        let place = Place::Prefix(prefix.path().to_owned());
        let folder = folder(&place).unwrap();
        fs::create_dir_all(&folder).unwrap();
        fs::write(folder.join("kernel.json"), "{\"language\": \"other\"}").unwrap();
        assert!(matches!(remove(&place), Err(KernelError::NotOurs(_))));
        let installed = install(&place, Path::new("/semilunar"));
        assert!(matches!(installed, Err(KernelError::NotOurs(_))));
        assert!(folder.join("kernel.json").exists());
    }

    /// The sizes that front ends ask for, from the PNG header (W3C PNG, 11.2.2).
    #[test]
    fn the_drawings_have_the_sizes_of_their_names() {
        for (name, bytes) in LOGOS {
            if let Some(size) = name.strip_prefix("logo-").and_then(|n| n.split('x').next())
                && let Ok(size) = size.parse::<u32>()
            {
                assert_eq!(&bytes[..8], b"\x89PNG\r\n\x1a\n");
                assert_eq!(bytes[16..20], size.to_be_bytes());
                assert_eq!(bytes[20..24], size.to_be_bytes());
            }
        }
    }
}
