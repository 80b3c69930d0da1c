//! The profiles compiled into the program, each by its kind and name.

use super::kind::Kind;

macro_rules! built_in {
    ($($kind:ident $folder:literal: [$($name:literal $(= $file:literal)?),* $(,)?];)*) => {
        /// Kind, name and text.
        pub(super) const BUILT_IN: &[(Kind, &str, &str)] = &[
            $($((Kind::$kind, $name, built_in!(@text $folder, $name $(, $file)?)),)*)*
        ];
    };
    (@text $folder:literal, $name:literal) => {
        include_str!(concat!("../../profiles/", $folder, "/", $name, ".toml"))
    };
    (@text $folder:literal, $name:literal, $file:literal) => {
        include_str!(concat!("../../profiles/", $folder, "/", $file, ".toml"))
    };
}

built_in! {
    Setup "setups": ["petrel", "plain", "pulling-tractor"];
    Engine "engines": ["large-eight", "medium-four", "medium-six", "pulling-six", "small-single", "workboat-six"];
    Carburetor "carburetors": ["four-barrel-600", "plain-four-barrel", "plain-one-barrel", "plain-two-barrel", "two-barrel-280"];
    Fuel "fuels": ["e0" = "gasoline", "e10", "e100", "e15", "e30", "e5", "e70", "e85", "gasoline", "methanol"];
    Logger "loggers": [
        "accelerometer", "afr-e85", "afr-gasoline", "dyno", "milliseconds-semicolon", "no-header", "vacuum-inhg",
        "volts-linear", "volts-table",
    ];
    Rules "rules": ["common"];
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_file_of_the_profiles_folder_is_forgotten() {
        for kind in Kind::ALL {
            let folder =
                std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("profiles").join(kind.folder());
            let Ok(entries) = std::fs::read_dir(folder) else { continue };
            for entry in entries {
                let path = entry.unwrap().path();
                let text = std::fs::read_to_string(&path).unwrap();
                let name = path.file_stem().unwrap().to_str().unwrap();
                let held = BUILT_IN.iter().find(|(k, n, _)| *k == kind && *n == name);
                assert_eq!(held.map(|h| h.2), Some(text.as_str()), "{}", path.display());
            }
        }
    }
}
