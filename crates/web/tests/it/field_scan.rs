//! A photo of a label picks from the list, or it is said plainly why it does not; and no photo does harm.

use std::time::{Duration, Instant};

use axum::http::StatusCode;
use image::{DynamicImage, GrayImage, ImageFormat, Luma};
use stillwell_field::{Field, Language};
use stillwell_study::{Delivery, Study};
use stillwell_web::{SheetWanted, label_sheet};

use crate::browser::Answered;
use crate::field::study;
use crate::field_phone::{BOUNDARY, Phone, Served, attribute};
use crate::field_photo::{Shot, drawn, modules, packed, png, read};
use crate::wells::{Dip, analyst, campaign_text};

/// A photo as a form.
fn form(token: &str, photo: &[u8]) -> Vec<u8> {
    let part = "content-disposition: form-data; name=";
    let mut body = format!("--{BOUNDARY}\r\n{part}\"form-token\"\r\n\r\n{token}\r\n").into_bytes();
    body.extend(format!("--{BOUNDARY}\r\n{part}\"photo\"; filename=\"p.jpg\"\r\n\r\n").bytes());
    body.extend(photo);
    body.extend(format!("\r\n--{BOUNDARY}--\r\n").bytes());
    body
}

impl Phone {
    fn sends_photo(&self, at: &Served, photo: &[u8]) -> Answered {
        let token = attribute(&self.page, "name=\"form-token\" value=\"");
        let kind = format!("multipart/form-data; boundary={BOUNDARY}");
        let way = format!("/field/run/{}/scan", self.run);
        at.send("POST", &way, &[("cookie", &self.cookie), ("content-type", &kind)], form(&token, photo))
    }

    /// Scans and looks at what comes of it.
    pub(crate) fn scans(&mut self, at: &Served, photo: &[u8]) {
        let sent = self.sends_photo(at, photo);
        assert_eq!(sent.status, StatusCode::SEE_OTHER, "{}", sent.body);
        let way = sent.header("location").to_owned();
        assert!(way.starts_with(&format!("/field/run/{}?", self.run)), "{way}");
        let seen = at.send("GET", &way, &[("cookie", &self.cookie)], Vec::new());
        assert_eq!(seen.status, StatusCode::OK);
        self.page = seen.body;
    }
}

/// The labels of the study's campaign.
struct Texts {
    wells: Vec<String>,
    boxes: Vec<String>,
    strips: Vec<String>,
}

impl Texts {
    fn of(path: &std::path::Path, campaign: &str) -> Self {
        let labels = Field::open(&Study::open_to_read(path).unwrap(), campaign).unwrap().labels();
        Self {
            wells: labels.wells.iter().map(|(label, _)| label.text()).collect(),
            boxes: labels.boxes.iter().map(|(label, _)| label.text()).collect(),
            strips: labels.strips.iter().map(|(label, _)| label.text()).collect(),
        }
    }

    fn strip(&self, code: &str) -> &str {
        self.strips.iter().find(|text| text.ends_with(&format!(":{code}"))).unwrap()
    }
}

#[test]
fn labels_pick_the_well_the_box_and_the_strip_and_the_run_goes_on() {
    let (_folder, path) = study();
    let texts = Texts::of(&path, "1");
    let at = Served::on(&path);
    let mut phone = Phone::paired(&at);
    phone.shows(&["Scan the code", "AVW-11", "AVW-12", "capture=\"environment\"", "accept=\"image/*\""]);
    phone.scans(&at, &Shot::USUAL.jpeg(&texts.wells[1]));
    phone.shows(&["The label says AVW-12.", "farm at the ford", "Show the whole list"]);
    phone.hides(&["AVW-11", "AVW-13"]);
    let label = attribute(&phone.page, "name=\"label\" value=\"");
    assert_eq!(label, texts.wells[1]);
    phone.does(&at, "well", &[("code", "AVW-12"), ("label", &label)], None);
    phone.scans(&at, &png(&texts.boxes[0]));
    phone.shows(&["The label says box K21A.", "K21A-101"]);
    phone.hides(&["K21B-201"]);
    phone.scans(&at, &png(texts.strip("K21A-103")));
    phone.shows(&["The label says K21A-103.", "name=\"code\" value=\"K21A-103\""]);
    phone.hides(&["<select"]);
    phone.does(&at, "strip", &[("code", "K21A-103")], None);
    phone.shows(&["How warm is the control vial?"]);
    let steps = Study::open_now(&path).unwrap().field_steps().unwrap();
    assert_eq!(steps.len(), 2, "what was scanned is no step");
    assert_eq!(steps[0].label, Some(label), "and the step says that it was scanned");
}

#[test]
fn a_label_that_picks_nothing_says_why_and_what_to_do() {
    let (_folder, path) = study();
    let (_other_folder, other) = study();
    let texts = Texts::of(&path, "1");
    let at = Served::on(&path);
    let mut phone = Phone::paired(&at);
    // Copies of one study are one study; another one is founded anew.
    assert_eq!(Texts::of(&other, "1").wells, texts.wells);
    let foreign = texts.wells[0].replace(texts.wells[0].split(':').nth(2).unwrap(), "0123456789ABCDEF");
    phone.scans(&at, &png(&foreign));
    phone.shows(&["The label AVW-11 is from another list.", "Do not go by it.", "AVW-13"]);
    phone.scans(&at, &png("https://wells.example"));
    phone.shows(&["This picture holds no code of ours."]);
    phone.scans(&at, &png(&texts.boxes[0]));
    phone.shows(&["K21A is a strip or a box. Now we need the well."]);
    let unknown = texts.wells[0].replace("AVW-11", "AVW-77");
    phone.scans(&at, &png(&unknown));
    phone.shows(&["The code “AVW-77” is not on the list of wells."]);
    let renamed = texts.wells[0].replace(texts.wells[0].split(':').nth(3).unwrap(), "00000000");
    phone.scans(&at, &png(&renamed));
    phone.shows(&["The label AVW-11 is old."]);
    phone.at_well(&at, "AVW-11");
    phone.scans(&at, &png(&texts.wells[0]));
    phone.shows(&["AVW-11 is a well. Now we need a strip."]);
    for label in [&texts.boxes[1], texts.strip("K21B-201")] {
        phone.scans(&at, &png(label));
        phone.shows(&["was good until 2026-06-30. It is too old.", "Throw it away."]);
    }
    phone.control(&at, 101);
    phone.scans(&at, &png(texts.strip("K21A-101")));
    phone.shows(&["The strip K21A-101 was used before."]);
    let recalled = texts.strip("K21A-109").replace("K21A-109", "K21A-110");
    phone.scans(&at, &png(&recalled));
    phone.shows(&["The strip K21A-110 was called back by the lab."]);
    phone.does(&at, "strip", &[("code", "K21A-102")], None);
    phone.scans(&at, &png(texts.strip("K21A-104")));
    phone.shows(&["This step does not come now."]);
}

#[test]
fn a_label_outlives_its_campaign_unless_its_code_was_given_away() {
    let (_folder, path) = study();
    let first = Texts::of(&path, "1");
    let text = campaign_text()
        .replace("summer round", "autumn round")
        .replace("name = \"AV-12\"", "name = \"AV-12 new bore\"");
    let mut writing = Study::open_now(&path).unwrap();
    Field::record(&mut writing, "campaign.toml", &text, &analyst()).unwrap();
    drop(writing);
    let at = Served::at(&path, std::sync::Arc::new(crate::wells::NOON_MS.into()), Some("2"));
    let mut phone = Phone::paired(&at);
    phone.scans(&at, &png(&first.wells[0]));
    phone.shows(&["The label says AVW-11."]);
    phone.scans(&at, &png(&first.wells[1]));
    phone.shows(&["The label AVW-12 is old."]);
}

#[test]
fn a_strip_that_the_desk_used_is_blocked() {
    let (folder, path) = study();
    // The desk measures check strips of the very box that went into the field.
    let desk = folder.path().join("desk");
    std::fs::create_dir(&desk).unwrap();
    let dip = Dip::new(120, 25.0);
    std::fs::write(desk.join("check.txt"), dip.file(1)).unwrap();
    let sheet = "file,scan,role,sample,lot,electrode,electrode_scan,date,temperature_c\n\
                 check.txt,1,sample,desk check,L21,L21-120,1,2026-07-01,21.0\n";
    std::fs::write(desk.join("run-sheet.csv"), sheet).unwrap();
    let mut writing = Study::open_now(&path).unwrap();
    writing.add(&Delivery::of_folder(&desk).unwrap(), &analyst(), |_| {}).unwrap();
    drop(writing);
    let at = Served::on(&path);
    let mut phone = Phone::paired(&at);
    phone.at_well(&at, "AVW-11");
    phone.does(&at, "strip", &[("code", "K21A-120")], None);
    phone.shows(&["The strip K21A-120 was used before."]);
    phone.does(&at, "strip", &[("code", "K21A-121")], None);
    phone.shows(&["How warm is the control vial?"]);
}

#[test]
fn photos_as_phones_take_them() {
    let (_folder, path) = study();
    let label = Texts::of(&path, "1").wells[0].clone();
    let at = Served::on(&path);
    let mut phone = Phone::paired(&at);
    let usual = Shot::USUAL;
    for (words, shot) in [
        ("twelve million pixels", Shot { width: 3000, height: 4000, ..usual }),
        ("small in the picture", Shot { width: 2400, height: 3200, part: 0.14, ..usual }),
        ("upside down", Shot { turned_degrees: 184.0, ..usual }),
        ("on its side", Shot { turned_degrees: 82.0, ..usual }),
        ("from below", Shot { tilted: 0.18, ..usual }),
        ("a small phone's picture", Shot { width: 480, height: 640, ..usual }),
    ] {
        let photo = shot.jpeg(&label);
        let started = Instant::now();
        phone.scans(&at, &photo);
        println!("{words}: {:?}", started.elapsed());
        assert!(phone.page.contains("The label says AVW-11."), "{words}");
    }
}

/// What no camera makes.
fn hostile() -> Vec<(&'static str, Vec<u8>)> {
    let grey = |side: u32, of: &dyn Fn(u32, u32) -> u8| {
        packed(
            &DynamicImage::ImageLuma8(GrayImage::from_fn(side, side, |x, y| Luma([of(x, y)]))),
            ImageFormat::Png,
        )
    };
    let whole = png("SWF1");
    let mut bomb = whole.clone();
    // Width and height in the first chunk of a PNG; its checksum is mended.
    bomb[16..24].copy_from_slice(&[0, 1, 0, 0, 0, 1, 0, 0]);
    let sum = crc(&bomb[12..29]);
    bomb[29..33].copy_from_slice(&sum.to_be_bytes());
    let jpeg = Shot::USUAL.jpeg("SWF1");
    let mut passes = jpeg.clone();
    let at = jpeg.windows(2).position(|pair| pair == [0xff, 0xda]).unwrap();
    let pass = jpeg[at..at + 14].to_vec();
    for _ in 0..3000 {
        passes.splice(at..at, pass.clone());
    }
    // Corners of codes without end: every three might be one.
    let corner = |x: u32, y: u32| {
        let (x, y) = (x % 9, y % 9);
        let ring = x == 0 || y == 0 || x == 6 || y == 6;
        let stone = (2..5).contains(&x) && (2..5).contains(&y);
        if x < 7 && y < 7 && (ring || stone) { 0 } else { 255 }
    };
    let big_corner = |x: u32, y: u32| corner(x / 4, y / 4);
    let mut grain = 7_u32;
    let noise = GrayImage::from_fn(1600, 1600, |_, _| {
        grain = grain.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        Luma([if grain >> 31 == 0 { 0 } else { 255 }])
    });
    vec![
        ("nothing", Vec::new()),
        ("a text", b"1,2\n3,4\n".to_vec()),
        ("half a PNG", whole[..whole.len() / 2].to_vec()),
        ("half a JPEG", jpeg[..jpeg.len() / 2].to_vec()),
        ("a PNG of four thousand million pixels", bomb),
        ("a JPEG of three thousand passes", passes),
        ("a GIF", b"GIF89a\x01\x00\x01\x00\x00\x00\x00;".to_vec()),
        ("corners, one beside the other", grey(800, &corner)),
        ("corners on a finer ground", grey(1600, &corner)),
        ("large corners", grey(1600, &big_corner)),
        ("noise", packed(&noise.into(), ImageFormat::Png)),
        ("one pixel", grey(1, &|_, _| 0)),
        ("one line", packed(&GrayImage::new(60_000, 1).into(), ImageFormat::Png)),
        ("all black, fifty million pixels", packed(&GrayImage::new(7000, 7000).into(), ImageFormat::Png)),
        ("more pixels than are taken", packed(&GrayImage::new(8000, 8000).into(), ImageFormat::Png)),
    ]
}

/// The checksum of PNG (ISO/IEC 15948, annex D), bit by bit.
fn crc(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(u32::MAX, |sum, byte| {
        (0..8).fold(
            sum ^ u32::from(*byte),
            |sum, _| {
                if sum & 1 == 1 { 0xedb8_8320 ^ (sum >> 1) } else { sum >> 1 }
            },
        )
    })
}

#[test]
fn no_photo_does_harm() {
    let (_folder, path) = study();
    let at = Served::on(&path);
    let mut phone = Phone::paired(&at);
    for (words, photo) in hostile() {
        let started = Instant::now();
        phone.scans(&at, &photo);
        let took = started.elapsed();
        println!("{words}, {} bytes: {took:?}", photo.len());
        phone.shows(&["Which well are you at?", "Or pick from the list"]);
        // Far beyond what was measured, and below the time after which nobody waits any more.
        assert!(took < Duration::from_secs(15), "{words}: {took:?}");
    }
    let jpeg = Shot { width: 300, height: 300, ..Shot::USUAL }.jpeg("SWF1");
    let mut draw = 1_u32;
    for n in 0..300 {
        let mut broken = if n % 2 == 0 { jpeg.clone() } else { png("SWF1:A") };
        for _ in 0..=(n % 7) {
            draw = draw.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let at = draw as usize % broken.len();
            broken[at] = draw.to_le_bytes()[2];
        }
        assert_eq!(phone.sends_photo(&at, &broken).status, StatusCode::SEE_OTHER, "{n}");
    }
}

#[test]
fn photos_are_taken_as_every_form_is() {
    let (_folder, path) = study();
    let at = Served::on(&path);
    let mut phone = Phone::paired(&at);
    let label = Texts::of(&path, "1").wells[0].clone();
    phone.scans(&at, &vec![0xff; 17 << 20]);
    phone.shows(&["This picture is too big."]);
    let kind = format!("multipart/form-data; boundary={BOUNDARY}");
    let way = format!("/field/run/{}/scan", phone.run);
    let headers = [("cookie", phone.cookie.as_str()), ("content-type", kind.as_str())];
    let guessed = at.send("POST", &way, &headers, form("guess", &png(&label)));
    assert_eq!(guessed.status, StatusCode::FORBIDDEN);
    let foreign = [headers[0], headers[1], ("origin", "http://evil.example")];
    assert_eq!(at.send("POST", &way, &foreign, Vec::new()).status, StatusCode::FORBIDDEN);
    let unpaired = at.send("POST", &way, &[headers[1]], form("guess", &png(&label)));
    assert_eq!(unpaired.status, StatusCode::UNAUTHORIZED);
    // What an address says is looked up again, and shown as text.
    let way = format!("/field/run/{}?label=%3Cb%3E", phone.run);
    let page = at.send("GET", &way, &[headers[0]], Vec::new());
    assert!(page.body.contains("This picture holds no code of ours.") && !page.body.contains("<b>\""));
}

#[test]
fn every_label_of_the_sheet_is_read_by_another_library() {
    let (_folder, path) = study();
    let opened = Study::open_to_read(&path).unwrap();
    let labels = Field::open(&opened, "1").unwrap().labels();
    let mut expected: Vec<String> = labels.wells.iter().map(|(label, _)| label.text()).collect();
    expected.extend(labels.boxes.iter().map(|(label, _)| label.text()));
    let short = expected.len();
    expected.extend(labels.strips.iter().map(|(label, _)| label.text()));
    assert_eq!(expected.len(), 3 + 2 + 59 + 20, "the strip that was called back has none");
    for (strips, n) in [(false, short), (true, expected.len())] {
        for language in Language::ALL {
            let wanted = SheetWanted { campaign: None, language, strips };
            let sheet = label_sheet(&opened, &wanted).unwrap();
            assert!(!sheet.document.contains("<script") && !sheet.document.contains("http"));
            if let Some(pictures) = std::env::var_os("STILLWELL_PICTURES") {
                let name = format!("labels-{}-{n}.html", language.tag());
                std::fs::write(std::path::Path::new(&pictures).join(name), &sheet.document).unwrap();
            }
            let found: Vec<String> = pictures(&sheet.document).iter().flat_map(read).collect();
            assert_eq!(found, expected[..n]);
        }
    }
    for words in ["pump behind the school", "AVW-11"] {
        let wanted = SheetWanted { campaign: Some("1"), language: Language::German, strips: false };
        let sheet = label_sheet(&opened, &wanted).unwrap().document;
        assert!(sheet.contains(words) && sheet.contains("Streifen 101 bis 160"), "{words}");
    }
}

/// The codes of a document as pixels, from the squares that are drawn.
fn pictures(document: &str) -> Vec<GrayImage> {
    let codes = document.split("<svg").skip(1).map(|code| code.split("</svg>").next().unwrap());
    codes
        .map(|code| {
            let side: usize =
                attribute(code, "viewBox=\"").split_whitespace().nth(2).unwrap().parse().unwrap();
            let mut modules = vec![vec![false; side]; side];
            for square in attribute(code, " d=\"").split('M').skip(1) {
                let (x, rest) = square.split_once(' ').unwrap();
                let (y, shape) = rest.split_once('h').unwrap();
                assert_eq!(shape, "1v1h-1z");
                modules[y.parse::<usize>().unwrap()][x.parse::<usize>().unwrap()] = true;
            }
            drawn(&modules, 5)
        })
        .collect()
}

#[test]
fn a_blot_on_a_label_does_no_harm() {
    let (_folder, path) = study();
    let label = Texts::of(&path, "1").wells[0].clone();
    let mut worn = modules(&label);
    // White as bare metal; the marks by which a code is found must be left.
    let middle = worn.len() / 2;
    for row in &mut worn[middle - 4..middle + 4] {
        row[middle - 4..middle + 4].fill(false);
    }
    let at = Served::on(&path);
    let mut phone = Phone::paired(&at);
    phone.scans(&at, &packed(&drawn(&worn, 8).into(), ImageFormat::Png));
    phone.shows(&["The label says AVW-11."]);
}

/// How many photos of how many give their label, by how they were taken.
#[test]
#[ignore = "a minute: how far a photo may be askew, small or coarse"]
fn how_good_a_photo_must_be() {
    let (_folder, path) = study();
    let texts = Texts::of(&path, "1");
    let at = Served::on(&path);
    let mut phone = Phone::paired(&at);
    let usual = Shot::USUAL;
    let shots = [
        ("as usual", usual),
        ("tilted 15 %", Shot { tilted: 0.15, ..usual }),
        ("tilted 25 %", Shot { tilted: 0.25, ..usual }),
        ("tilted 35 %", Shot { tilted: 0.35, ..usual }),
        ("a quarter of the width", Shot { part: 0.25, ..usual }),
        ("an eighth of the width", Shot { part: 0.125, ..usual }),
        ("turned 45 degrees", Shot { turned_degrees: 45.0, ..usual }),
        ("640 pixels", Shot { width: 480, height: 640, ..usual }),
    ];
    for (words, shot) in shots {
        let mut n_read = 0;
        for text in texts.strips.iter().step_by(4) {
            phone.scans(&at, &shot.jpeg(text));
            // Read, though a strip is not asked for.
            n_read += usize::from(phone.page.contains("Now we need the well."));
        }
        println!("{words}: {n_read} of {}", texts.strips.len().div_ceil(4));
    }
}
