//! The descriptions that come with the program: open standards and generic families only.

/// The shipped descriptions by name, as text.
pub fn shipped() -> &'static [(&'static str, &'static str)] {
    macro_rules! embedded {
        ($($name:literal),* $(,)?) => {
            &[$(($name, include_str!(concat!("../../protocols/", $name, ".toml")))),*]
        };
    }
    embedded![
        "gatt-described",
        "hatchery-fixed",
        "hatchery-length",
        "hatchery-notify",
        "insulation-line",
        "modbus-rtu-float",
        "modbus-tcp-float",
        "scpi-poll",
        "text-line",
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_file_in_the_folder_is_shipped_and_its_examples_hold() {
        let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/protocols");
        let mut found: Vec<String> = std::fs::read_dir(folder)
            .expect("the folder")
            .map(|file| {
                file.expect("a file")
                    .file_name()
                    .into_string()
                    .expect("UTF-8")
            })
            .collect();
        found.sort();
        let listed: Vec<String> = shipped().iter().map(|(n, _)| format!("{n}.toml")).collect();
        assert_eq!(found, listed, "add the file to the list above");
        for (name, text) in shipped() {
            let problems = super::super::check(name, text);
            assert!(problems.is_empty(), "{name}: {problems:#?}");
            assert!(
                super::super::examples(name, text).is_ok_and(|e| e.len() > 1),
                "{name}: expected examples"
            );
        }
    }
}
