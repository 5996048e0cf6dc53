//! The invented scenario `examples/alder-vale` in memory.

use stillwell_method::{Input, NamedText, RawFile};

/// The scenario, assembled; `spoil` may change a raw file first.
pub(crate) fn input(spoil: impl Fn(&mut RawFile)) -> Input {
    let folder = stillwell_house::repository().join("examples/alder-vale");
    let text = |name: &str| std::fs::read_to_string(folder.join(name)).unwrap();
    let mut files = Vec::new();
    for entry in std::fs::read_dir(&folder).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        if !["README.md", "method.toml", "run-sheet.csv"].contains(&name.as_str()) {
            let mut file = RawFile { bytes: std::fs::read(&path).unwrap(), name };
            spoil(&mut file);
            files.push(file);
        }
    }
    files.sort_by(|a, b| a.name.cmp(&b.name));
    let (method, sheet) = (text("method.toml"), text("run-sheet.csv"));
    Input::assemble(
        NamedText { name: "method.toml", text: &method },
        NamedText { name: "run-sheet.csv", text: &sheet },
        &files,
        |_| {},
    )
    .unwrap()
}
