//! The same record from the package's C: the same bytes, the same line, the same digits.

use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::OnceLock;

use stillwell_house::require_or_skip;
use stillwell_quantity::{Analyte, Concentration, ExpressedAs, QuantityKind, Species, Unit};
use stillwell_stats::random::RandomStream;
use stillwell_transfer::wire::{
    WireNumbers, WireOutcome, WireRecord, WireVerdict, basis_texts, from_bytes, from_line, to_bytes, to_line,
};

use super::{hex, outcomes, with};

/// What the host's compiler is given; the same as in the package's Makefile, but hosted.
const FLAGS: [&str; 9] = [
    "-std=c99",
    "-O1",
    "-ffp-contract=off",
    "-Wall",
    "-Wextra",
    "-Wconversion",
    "-pedantic",
    "-Werror",
    "-fsanitize=undefined,address",
];

fn c_folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("c")
}

/// The driver, compiled once; none where there is no C compiler.
fn driver() -> Option<&'static Path> {
    static DRIVER: OnceLock<Option<(tempfile::TempDir, PathBuf)>> = OnceLock::new();
    let made = DRIVER.get_or_init(|| {
        let folder = tempfile::tempdir().expect("it goes well");
        let program = folder.path().join("driver");
        let sources = ["wire.c", "decimal.c", "arithmetic.c"].map(|name| c_folder().join(name));
        let mut command = Command::new("cc");
        command.args(FLAGS).arg("-I").arg(c_folder()).args(sources);
        command.arg(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/it/wire/driver.c"));
        let Ok(output) = command.arg("-o").arg(&program).output() else {
            require_or_skip("a C compiler named cc");
            return None;
        };
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        Some((folder, program))
    });
    made.as_ref().map(|(_, program)| program.as_path())
}

/// One answer for each line that is asked.
fn ask(lines: &[String]) -> Option<Vec<String>> {
    let mut child = Command::new(driver()?)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("it goes well");
    let mut to = child.stdin.take().expect("it goes well");
    let text = lines.join("\n") + "\n";
    let writer = std::thread::spawn(move || to.write_all(text.as_bytes()));
    let output = child.wait_with_output().expect("it goes well");
    writer.join().expect("it goes well").expect("it goes well");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let answers = String::from_utf8(output.stdout).expect("it goes well");
    let answers: Vec<String> = answers.lines().map(str::to_owned).collect();
    assert_eq!(answers.len(), lines.len());
    Some(answers)
}

/// How the driver is asked; `spoil` changes the basis' checksum, `room` is the buffer.
struct Asked<'r> {
    record: &'r WireRecord,
    form: &'static str,
    spoil: u32,
    room: u32,
}

impl Asked<'_> {
    fn line(&self) -> String {
        let record = self.record;
        let [analyte, unit, species] = basis_texts(&record.kind);
        let bits = |number: &Concentration| format!("{:x}", number.value().to_bits());
        let mut numbers = vec!["0".to_owned(); 6];
        let (mut because, mut fault) = (0, 0);
        match &record.outcome {
            WireOutcome::Quantified(of) => {
                let all = [&of.value, &of.low, &of.high, &of.level, &of.level_standard_u];
                numbers = all.into_iter().map(bits).chain(["0".to_owned()]).collect();
            }
            WireOutcome::BelowQuantification(bound)
            | WireOutcome::NotDetected(bound)
            | WireOutcome::AboveRange(bound) => numbers[5] = bits(bound),
            WireOutcome::Refused { because: why, fault: found } => (because, fault) = (*why, *found),
        }
        let mut fields = vec![
            self.form.to_owned(),
            record.name.clone(),
            format!("{:x}", record.counter),
            format!("{:x}", record.time_s.unwrap_or(0)),
            format!("{:x}", record.method[0]),
            record.lot.clone(),
            format!("{:x}", record.lot_checksum),
            format!("{:x}", record.calibration[0]),
            analyte,
            unit,
            species,
            format!("{:x}", record.outcome.code()),
        ];
        fields.extend(numbers);
        fields.extend(
            [because, fault, u32::try_from(record.verdicts.len()).expect("it goes well")]
                .map(|n| format!("{n:x}")),
        );
        fields.extend((0..4).map(|i| format!("{:x}", record.verdicts.get(i).map_or(4, |one| one.code()))));
        let codes = [
            record.withheld,
            record.warnings,
            record.n_electrodes,
            record.n_scans,
            record.n_offered,
            record.trust_failed,
            record.reasons,
            self.spoil,
            self.room,
        ];
        fields.extend(codes.map(|n| format!("{n:x}")));
        assert_eq!(fields.len(), 34);
        fields.join("\t")
    }
}

fn asked<'r>(record: &'r WireRecord, form: &'static str) -> Asked<'r> {
    let room = if form == "cbor" { 512 } else { 2048 };
    Asked { record, form, spoil: 0, room }
}

/// The driver makes the untested checks from the failed ones.
fn askable(mut record: WireRecord) -> WireRecord {
    record.trust_untested = record.trust_failed >> 3;
    record
}

/// Any 64 bits.
fn any(random: &mut RandomStream) -> u64 {
    let mut half = || (random.uniform() * 4_294_967_296.0) as u64;
    (half() << 32) | half()
}

fn drawn(index: u64) -> WireRecord {
    let mut random = RandomStream::new(20, index);
    let mut upto = |n: u64| any(&mut random) % n;
    let analytes = [Analyte::Nitrate, Analyte::Nitrite, Analyte::Ammonium, Analyte::NitratePlusNitrite];
    let analyte = analytes[upto(4) as usize].clone();
    let form = if upto(2) == 0 { ExpressedAs::Itself } else { ExpressedAs::Nitrogen };
    let kind = QuantityKind {
        unit: Unit::ALL[upto(7) as usize],
        species: Species::new(analyte, form).expect("it goes well"),
    };
    let mut number = || loop {
        // Every other one of everyday size.
        let x = if upto(2) == 0 { f64::from_bits(upto(u64::MAX)) } else { upto(1 << 40) as f64 / 1e9 };
        if let Ok(number) = Concentration::of_kind(x, kind.clone()) {
            break number;
        }
    };
    let numbers = WireNumbers {
        value: number(),
        low: number(),
        high: number(),
        level: number(),
        level_standard_u: number(),
    };
    let outcome = match upto(5) {
        0 => WireOutcome::BelowQuantification(numbers.value),
        1 => WireOutcome::NotDetected(numbers.value),
        2 => WireOutcome::AboveRange(numbers.value),
        3 => WireOutcome::Refused { because: upto(11) as u32, fault: upto(9) as u32 },
        _ => WireOutcome::Quantified(Box::new(numbers)),
    };
    let withheld = if upto(3) == 0 { upto(16) as u32 } else { 0 };
    let may_show = withheld == 0 && !matches!(outcome, WireOutcome::Refused { .. });
    let n_limits = upto(5);
    let lots = ["L21", "", "B\"2\\", "Charge µ 7", "x\ty"];
    askable(WireRecord {
        name: ["urn:dev:mac:0024befffe804ff1", "a", "well-7/depth_2.5:A"][upto(3) as usize].to_owned(),
        counter: (upto(1 << 32) >> upto(32)) as u32,
        time_s: (upto(4) > 0).then(|| (1 << 28) + upto(1 << 31) as u32),
        method: [upto(256) as u8; 32],
        lot: lots[upto(4) as usize].to_owned(),
        lot_checksum: upto(1 << 32) as u32,
        calibration: [upto(256) as u8; 32],
        kind: kind.clone(),
        outcome,
        verdicts: (0..n_limits)
            .map(|_| WireVerdict::ALL[if may_show { upto(5) } else { 3 + upto(2) } as usize])
            .collect(),
        withheld,
        warnings: upto(16) as u32,
        n_electrodes: upto(7) as u32,
        n_scans: upto(25) as u32,
        n_offered: upto(300) as u32,
        trust_failed: upto(1 << 17) as u32,
        trust_untested: 0,
        reasons: upto(512) as u32,
    })
}

#[test]
fn two_thousand_records_are_the_same_from_c_and_from_rust() {
    let records: Vec<WireRecord> =
        outcomes().into_iter().map(|outcome| askable(with(outcome))).chain((0..2000).map(drawn)).collect();
    let lines: Vec<String> =
        records.iter().flat_map(|one| ["cbor", "json"].map(|form| asked(one, form).line())).collect();
    let Some(answers) = ask(&lines) else { return };
    let (mut longest_bytes, mut longest_line) = (0, 0);
    for (record, answer) in records.iter().zip(answers.chunks(2)) {
        let bytes = to_bytes(record).expect("it goes well");
        let hex = hex(&bytes);
        assert_eq!(answer[0], format!("0 {hex}"), "{record:?}");
        let line = to_line(record).expect("it goes well");
        assert_eq!(answer[1], format!("0 {line}"));
        assert_eq!(from_bytes(&bytes).as_ref(), Ok(record));
        assert_eq!(from_line(&line).as_ref(), Ok(record));
        (longest_bytes, longest_line) = (longest_bytes.max(bytes.len()), longest_line.max(line.len()));
    }
    println!("longest of {}: {longest_bytes} bytes, {longest_line} characters", records.len());
}

#[test]
fn a_double_is_written_with_the_digits_of_the_standard_library() {
    let mut random = RandomStream::new(21, 0);
    let mut numbers: Vec<f64> = (0..20_000).map(|_| f64::from_bits(any(&mut random))).collect();
    numbers.extend([0.0, -0.0, 1.0, 0.5, 1e22, 1e23, 9.5, 99.0, 5e-324, f64::MAX, f64::MIN_POSITIVE, 0.1]);
    // Ties of the 18th digit, and runs of nines.
    numbers.extend((0..2000).map(|i| f64::from_bits(0x4340_0000_0000_0000 + 7 * i)));
    numbers.extend((0..300).map(|i| format!("1e{}", i - 150).parse::<f64>().expect("a number").next_down()));
    numbers.retain(|x| x.is_finite());
    let lines: Vec<String> = numbers.iter().map(|x| format!("decimal\t{:x}", x.to_bits())).collect();
    let Some(answers) = ask(&lines) else { return };
    for (x, answer) in numbers.iter().zip(&answers) {
        assert_eq!(*answer, format!("{x:.16e}"), "{:x}", x.to_bits());
        assert_eq!(answer.parse::<f64>().expect("it goes well").to_bits(), x.to_bits());
    }
}

#[test]
fn the_device_refuses_what_may_not_be_sent() {
    let good = askable(with(outcomes().remove(0)));
    let code_of = |change: &dyn Fn(&mut WireRecord), spoil: u32, room: u32| {
        let mut record = good.clone();
        change(&mut record);
        let asked = Asked { record: &record, form: "cbor", spoil, room };
        ask(&[asked.line()]).map(|answers| answers[0].clone())
    };
    let nothing = |_: &mut WireRecord| {};
    let Some(whole) = code_of(&nothing, 0, 512) else { return };
    let n_bytes = u32::try_from((whole.len() - 2) / 2).expect("it goes well");
    assert!(whole.starts_with("0 "));
    assert_eq!(code_of(&nothing, 0, n_bytes), Some(whole), "just fits");
    assert_eq!(code_of(&nothing, 0, n_bytes - 1).as_deref(), Some("68 "), "one byte too few");
    assert_eq!(code_of(&nothing, 1, 512).as_deref(), Some("64 "), "the basis was changed");
    let refused = |change: &dyn Fn(&mut WireRecord)| code_of(change, 0, 512).expect("it goes well");
    assert_eq!(refused(&|r| r.name = "under line".to_owned()), "66 ");
    assert_eq!(refused(&|r| r.name = String::new()), "66 ");
    assert_eq!(refused(&|r| r.name = "-a".to_owned()), "66 ");
    assert_eq!(refused(&|r| r.name = "n".repeat(49)), "66 ");
    assert_eq!(refused(&|r| r.time_s = Some(12)), "67 ");
    assert_eq!(refused(&|r| r.withheld = 1), "69 ", "a verdict beside a reason to withhold it");
    assert_eq!(refused(&|r| r.outcome = WireOutcome::Refused { because: 1, fault: 0 }), "69 ");
}
