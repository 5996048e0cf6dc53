//! Taking in: files arrive under hostile names, are seen as they were read, get their run sheet, and go in once.

use axum::http::StatusCode;
use stillwell_study::Study;

use crate::browser::{Answered, Browser};
use crate::placing::over;
use crate::study;

const BOUNDARY: &str = "----a-boundary";

/// Files as a browser sends them, behind the token of the form.
fn multipart(token: &str, files: &[(&str, &[u8])]) -> Vec<u8> {
    let mut body =
        format!("--{BOUNDARY}\r\nContent-Disposition: form-data; name=\"form-token\"\r\n\r\n{token}\r\n")
            .into_bytes();
    for (name, bytes) in files {
        let name = name.replace('"', "%22").replace('\n', "%0A").replace('\r', "%0D");
        body.extend(format!("--{BOUNDARY}\r\nContent-Disposition: form-data; name=\"files\"; filename=\"{name}\"\r\nContent-Type: text/csv\r\n\r\n").into_bytes());
        body.extend_from_slice(bytes);
        body.extend(b"\r\n");
    }
    body.extend(format!("--{BOUNDARY}--\r\n").into_bytes());
    body
}

fn send(browser: &Browser, path: &str, files: &[(&str, &[u8])]) -> Answered {
    let token = browser.site.launch().form_token(path);
    let kind = format!("multipart/form-data; boundary={BOUNDARY}");
    browser.send("POST", path, &[("content-type", &kind)], multipart(&token, files))
}

fn begun(browser: &Browser, files: &[(&str, &[u8])]) -> String {
    let answer = send(browser, "/intake/files", files);
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.body);
    answer.header("location").to_owned()
}

fn seen(page: &Answered) -> String {
    page.body.split("name=\"seen\" value=\"").nth(1).unwrap().split('"').next().unwrap().to_owned()
}

fn batch() -> Vec<(String, Vec<u8>)> {
    let all = std::fs::read_dir(study::alder_vale()).unwrap().map(|entry| entry.unwrap());
    let raw = all.filter(|entry| entry.file_name().to_string_lossy().contains("-B"));
    raw.map(|entry| (entry.file_name().into_string().unwrap(), std::fs::read(entry.path()).unwrap()))
        .collect()
}

fn refs(files: &[(String, Vec<u8>)]) -> Vec<(&str, &[u8])> {
    files.iter().map(|(name, bytes)| (name.as_str(), bytes.as_slice())).collect()
}

/// An empty study of the scenario's method.
fn empty() -> (tempfile::TempDir, std::path::PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("empty.study");
    let method = std::fs::read_to_string(study::alder_vale().join("method.toml")).unwrap();
    Study::create(&path, "empty", &method, &study::analyst(), stillwell_study::Clock::system()).unwrap();
    (folder, path)
}

#[test]
fn the_whole_way_from_files_to_a_series_and_again_nothing() {
    let (_folder, path) = empty();
    let browser = Browser::on(&path);
    let mut files = batch();
    files.push((
        "run-sheet.csv".to_owned(),
        std::fs::read(study::alder_vale().join("run-sheet.csv")).unwrap(),
    ));
    files.push(("method.toml".to_owned(), std::fs::read(study::alder_vale().join("method.toml")).unwrap()));
    let address = begun(&browser, &refs(&files));
    let page = browser.get(&address);
    assert!(page.body.contains("the run sheet names every one of them"), "{}", page.body);
    assert!(page.body.contains("potential column 1"), "how it was read is shown");

    // It outlives the server.
    let browser = Browser::on(&path);
    assert!(browser.get("/intake").body.contains(&address));
    let take = format!("{address}/take");
    let unreasoned = browser.post(&take, &[("actor", "Ines Field"), ("name", "May")]);
    assert_eq!(unreasoned.status, StatusCode::UNPROCESSABLE_ENTITY);
    let by = [("actor", "Ines Field"), ("reason", "routine"), ("name", "May")];
    let (_, done) = over(&browser, &browser.post(&take, &by));
    assert!(done.contains("Series 1"), "{done}");
    let head = Study::open_to_read(&path).unwrap().anchor().unwrap();
    let (_, again) = over(&browser, &browser.post(&take, &by));
    assert!(again.contains("nothing was recorded"), "{again}");
    assert_eq!(Study::open_to_read(&path).unwrap().anchor().unwrap(), head);

    let unsure = browser.post(&format!("{address}/discard"), &[]);
    assert_eq!(unsure.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(browser.get(&address).status, StatusCode::OK);
    assert_eq!(browser.post(&format!("{address}/discard"), &[("sure", "yes")]).status, StatusCode::SEE_OTHER);
    assert_eq!(browser.get(&address).status, StatusCode::NOT_FOUND);
    assert!(!path.with_file_name("empty.study.intake").exists());
}

#[test]
fn a_run_sheet_grows_in_the_form_and_nothing_is_guessed() {
    let (_folder, path) = empty();
    let browser = Browser::on(&path);
    let blanks = std::fs::read(study::alder_vale().join("blanks-B1.csv")).unwrap();
    let address = begun(&browser, &[("blanks-B1.csv", &blanks)]);
    let page = browser.get(&address);
    assert!(page.body.contains("No run sheet says what they are yet"), "{}", page.body);
    let add = format!("{address}/lines");
    assert_eq!(browser.post(&add, &[("seen", &seen(&page))]).status, StatusCode::SEE_OTHER);
    let page = browser.get(&address);
    assert_eq!(page.body.matches("<option value=\"\" selected>not said").count(), 3, "{}", page.body);
    assert!(page.body.contains("class=\"wrong\"") && page.body.contains("What to do"), "{}", page.body);
    assert!(!page.body.contains("Take it in<"), "what is not said cannot be taken in");

    let set = format!("{address}/set");
    for (column, value) in
        [("role", "blank"), ("lot", "L21"), ("electrode", "L21-01"), ("date", "2026-05-12")]
    {
        let now = seen(&browser.get(&address));
        let fields =
            [("seen", now.as_str()), ("first", "2"), ("last", "4"), ("column", column), ("value", value)];
        assert_eq!(browser.post(&set, &fields).status, StatusCode::SEE_OTHER);
    }
    let page = browser.get(&address);
    let sheet = format!("{address}/sheet");
    let now = seen(&page);
    let typed = [
        ("seen", now.as_str()),
        ("page", "1"),
        ("r1_electrode", "L21-02"),
        ("r2_electrode", "L21-03, \"old\""),
    ];
    assert_eq!(browser.post(&sheet, &typed).status, StatusCode::SEE_OTHER);
    let page = browser.get(&address);
    assert!(
        page.body.contains("value=\"L21-02\"") && page.body.contains("L21-03, &quot;old&quot;"),
        "{}",
        page.body
    );
    assert!(page.body.contains("the run sheet names every one of them"), "{}", page.body);

    // A second tab still shows the sheet as it was: what is typed there is not lost, and nothing is written over.
    let stale = [("seen", now.as_str()), ("page", "1"), ("r0_note", "typed in the other tab")];
    let conflict = browser.post(&sheet, &stale);
    assert_eq!(conflict.status, StatusCode::CONFLICT);
    assert!(
        conflict.body.contains("typed in the other tab") && conflict.body.contains("not saved yet"),
        "{}",
        conflict.body
    );
    assert!(!browser.get(&address).body.contains("typed in the other tab"));
    let again = [("seen", seen(&conflict)), ("r0_note", "typed in the other tab".to_owned())];
    let again: Vec<(&str, &str)> = again.iter().map(|(name, value)| (*name, value.as_str())).collect();
    assert_eq!(browser.post(&sheet, &again).status, StatusCode::SEE_OTHER);
    assert!(browser.get(&address).body.contains("typed in the other tab"));
}

#[test]
fn hostile_names_lead_nowhere_and_become_no_markup() {
    let (folder, path) = empty();
    let browser = Browser::on(&path);
    let blanks = std::fs::read(study::alder_vale().join("blanks-B1.csv")).unwrap();
    let long = "n".repeat(300);
    let names = [
        "../../../evil.csv",
        "..\\evil2.csv",
        "/etc/evil3.csv",
        "<script>alert(1)<script>.csv",
        "\u{202e}vsc.csv",
        "..",
        ".hidden",
        &long,
        "index.json",
        "x.zip",
    ];
    let files: Vec<(&str, &[u8])> = names.iter().map(|name| (*name, blanks.as_slice())).collect();
    let address = begun(&browser, &files);
    let page = browser.get(&address).body;
    assert!(
        page.contains(">evil.csv<") && page.contains(">evil2.csv<") && page.contains(">evil3.csv<"),
        "{page}"
    );
    assert!(!page.replace("<script src=\"/assets/", "").contains("<script"), "{page}");
    assert!(
        page.contains("characters that cannot be seen")
            && page.contains("longer than 255 bytes")
            && page.contains("hidden file"),
        "{page}"
    );
    let id = address.trim_start_matches("/intake/");
    let staged: Vec<String> = std::fs::read_dir(folder.path().join("empty.study.intake").join(id))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    assert!(staged.iter().all(|name| name == "index.json" || name.len() == 64), "{staged:?}");
    let beside: Vec<String> = std::fs::read_dir(folder.path())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    assert!(beside.iter().all(|name| name.starts_with("empty.study")), "{beside:?}");
    for id in ["..", "%2e%2e", "0000000000000000", "../../etc", "..%2f..%2fetc", "zzzzzzzzzzzzzzzz"] {
        for way in ["", "/take", "/discard", "/files"] {
            let path = format!("/intake/{id}{way}");
            let answer = if way.is_empty() {
                browser.get(&path)
            } else {
                browser.post(&path, &[("sure", "yes"), ("actor", "a"), ("reason", "b"), ("name", "c")])
            };
            assert!(answer.status.is_client_error(), "{path}: {}", answer.status);
        }
    }
}

#[test]
fn what_is_no_scan_file_is_said_and_what_comes_without_the_token_is_not_kept() {
    let (folder, path) = empty();
    let browser = Browser::on(&path);
    let picture = [0x89, b'P', b'N', b'G', 0, 1, 2, 0xff];
    let address = begun(
        &browser,
        &[("picture.png", &picture), ("run-sheet.csv", &[0xff, 0xfe, 0xfd]), ("empty.csv", b"")],
    );
    let page = browser.get(&address).body;
    assert!(page.contains("not read") && page.contains("not UTF-8 from byte 0"), "{page}");
    let other = send(&browser, "/intake/files", &[("a.csv", b"E / V,i / A\n0.1,1\n")]);
    assert_eq!(other.status, StatusCode::SEE_OTHER);
    let twice = other.header("location").to_owned();
    send(&browser, &format!("{twice}/files"), &[("a.csv", b"something else")]);
    assert!(browser.get(&twice).body.contains("another file of this name"));

    let kind = format!("multipart/form-data; boundary={BOUNDARY}");
    let count = || std::fs::read_dir(folder.path().join("empty.study.intake")).unwrap().count();
    let before = count();
    for token in ["", "guess", &browser.site.launch().form_token("/other"), &"x".repeat(100_000)] {
        let sent = browser.send(
            "POST",
            "/intake/files",
            &[("content-type", &kind)],
            multipart(token, &[("a.csv", b"x")]),
        );
        assert_eq!(sent.status, StatusCode::FORBIDDEN, "{}", sent.body);
    }
    for (kind, body) in [
        ("text/plain", b"x".to_vec()),
        ("multipart/form-data", b"x".to_vec()),
        (kind.as_str(), b"--broken".to_vec()),
    ] {
        let sent = browser.send("POST", "/intake/files", &[("content-type", kind)], body);
        assert!(sent.status.is_client_error(), "{kind}: {}", sent.status);
    }
    assert_eq!(count(), before, "nothing was kept");
}

#[test]
fn too_large_a_file_is_not_kept_and_leaves_nothing() {
    let (folder, path) = empty();
    let browser = Browser::on(&path);
    let address = begun(&browser, &[("a.csv", b"E / V,i / A\n0.1,1\n")]);
    let large = vec![b'1'; (64 << 20) + 1];
    let sent =
        send(&browser, &format!("{address}/files"), &[("b.csv", b"E / V,i / A\n"), ("large.csv", &large)]);
    assert_eq!(sent.status, StatusCode::PAYLOAD_TOO_LARGE, "{}", sent.body);
    assert!(sent.body.contains("larger than 64 MB"), "{}", sent.body);
    let page = browser.get(&address).body;
    assert!(page.contains(">b.csv<") && !page.contains(">large.csv<"), "what came before is kept");
    let id = address.trim_start_matches("/intake/");
    let staged = std::fs::read_dir(folder.path().join("empty.study.intake").join(id)).unwrap();
    assert!(
        staged
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .all(|name| !name.starts_with("arriving"))
    );
}

#[test]
fn ten_thousand_files_are_one_intake_and_its_pages_stay_small() {
    let (_folder, path) = empty();
    let browser = Browser::on(&path);
    let files: Vec<(String, Vec<u8>)> = (0..10_000)
        .map(|n| {
            (format!("scan-{n:05}.csv"), format!("E / V,i / µA\n0.1,{n}\n0.2,1\n0.3,2\n0.4,3\n").into_bytes())
        })
        .collect();
    let started = std::time::Instant::now();
    let address = begun(&browser, &refs(&files));
    println!("10,000 files: kept in {} ms", started.elapsed().as_millis());
    let page = browser.get(&address);
    println!("read and shown in {} ms, {} bytes", started.elapsed().as_millis(), page.body.len());
    assert_eq!(page.status, StatusCode::OK);
    assert!(
        page.body.contains("Take in 10000 files") && page.body.len() < 400_000,
        "{} bytes",
        page.body.len()
    );
}
