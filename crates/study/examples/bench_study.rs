//! Speed of a study, as ratios within one run: import against writing the same blobs straight into `SQLite` in one
//! transaction, and evaluating all of history anew against reading its numbers. What is compared is measured in turn,
//! `REPEATS` times; medians are printed.
//!
//!     cargo run --release -p stillwell-study --example bench_study -- FOLDER [SCANS] [POINTS] [REPEATS] [inferred]
//!
//! FOLDER must not exist; it is made, and takes about 6 GB for 100,000 scans of 600 points. The method pins how
//! the text is read, as methods in use do; with `inferred` each file is understood anew. For one core: `taskset -c 0`.
//!
//! The rival writes the very bytes that the study holds of texts and scans (packed texts, numbers, hashes of texts), from
//! memory, with prepared statements, the same page size, journal and `synchronous = FULL`, into tables without indices.

#![expect(clippy::print_stdout, reason = "it prints what it measured")]

use std::error::Error;
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::Instant;

use rusqlite::{Connection, params};
use stillwell_stats::random::RandomStream;
use stillwell_study::{By, Clock, Delivery, Study};

/// Scans of one series: 10 blanks, 60 standards, the rest samples.
const SERIES_SCANS: usize = 1000;
const LEVELS: [f64; 6] = [0.0, 10.0, 25.0, 50.0, 75.0, 100.0];

const PINNED: &str = "[reading]\nencoding = \"utf-8\"\ndelimiter = \"comma\"\ndecimal_mark = \"point\"\nheader_lines = 1\n\
    layout = \"columns\"\npotential_column = 1\ncurrent_columns = [2]\npotential_unit = \"V\"\ncurrent_unit = \"µA\"\n\
    reduction_current = \"negative\"\n";

type Fallible<T> = Result<T, Box<dyn Error>>;

fn main() -> Fallible<()> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let folder = PathBuf::from(arguments.first().ok_or("name a folder to be made")?);
    let number = |index: usize, usual: usize| arguments.get(index).map_or(Ok(usual), |text| text.parse());
    let (n_scans, n_points, n_repeats) = (number(1, 100_000)?, number(2, 600)?, number(3, 5)?);
    fs::create_dir(&folder)?;
    let pins = if arguments.get(4).is_some_and(|word| word == "inferred") { "" } else { PINNED };
    let n_series = n_scans.div_ceil(SERIES_SCANS);
    println!("{n_series} series of {SERIES_SCANS} scans of {n_points} points, one scan a file");
    for series in 0..n_series {
        write_series(&folder.join(format!("series-{series:04}")), series, n_points)?;
    }
    let path = folder.join("bench.study");
    let first = method(n_points, "1", 0.018, pins);
    let second = method(n_points, "2", 0.02, pins);
    let mut imports = vec![timed(|| import(&folder, &path, n_series, &first))?];
    println!("peak memory after the import: {} MiB", peak_memory_mib());
    timed(|| import(&folder, &path, n_series, &first))?.print("import again (no-op)");
    let study = Study::open_now(&path)?;
    let (mut reads, mut looks) = (Vec::new(), Vec::new());
    for _ in 0..n_repeats {
        reads.push(timed(|| read_blobs(&path))?);
        looks.push(timed(|| {
            let outcome = study.try_revision(&second)?;
            match (outcome.differences.len(), outcome.unreadable.len()) {
                (0, _) | (_, 1..) => Err("the revision should change results and read every series".into()),
                _ => Ok(()),
            }
        })?);
    }
    println!("peak memory after trying a revision: {} MiB", peak_memory_mib());
    compare("reading the numbers", &reads, "trying a revision", &looks);
    drop(study);
    imports_against_straight(&folder, &path, (n_series, n_repeats), &first, &mut imports)?;
    let size = fs::metadata(&path)?.len();
    println!("the study has {} MiB", size >> 20);
    // Last, because it adds to the study: every result on record anew.
    let by = By::new("bench", "measuring the speed of a new revision")?;
    let mut study = Study::open_now(&path)?;
    timed(|| Ok(study.reevaluate(&second, &by).map(|_| ())?))?.print("a new revision, recorded");
    Ok(())
}

fn imports_against_straight(
    folder: &Path,
    path: &Path,
    (n_series, n_repeats): (usize, usize),
    method: &str,
    imports: &mut Vec<Timed>,
) -> Fallible<()> {
    // Everything is in memory from here on, for both.
    let blobs = Blobs::of(path)?;
    let mut straights = Vec::new();
    for repeat in 0..n_repeats {
        let (again, straight) = (folder.join("again.study"), folder.join("straight.db"));
        if repeat > 0 {
            imports.push(timed(|| import(folder, &again, n_series, method))?);
            remove(&again)?;
        }
        straights.push(timed(|| blobs.straight(&straight))?);
        remove(&straight)?;
    }
    compare("the same blobs straight in", &straights, "import", imports);
    Ok(())
}

fn remove(database: &Path) -> Fallible<()> {
    Ok(fs::remove_file(database)?)
}

/// Wall time and processor time, of which the system took a part, s.
#[derive(Clone, Copy)]
struct Timed {
    wall_s: f64,
    processor_s: f64,
    system_s: f64,
}

fn timed(act: impl FnOnce() -> Fallible<()>) -> Fallible<Timed> {
    let (begun, before) = (Instant::now(), processor_s());
    act()?;
    let [user_s, system_s] = processor_s();
    let [user_before_s, system_before_s] = before;
    let system_s = system_s - system_before_s;
    Ok(Timed {
        wall_s: begun.elapsed().as_secs_f64(),
        processor_s: user_s - user_before_s + system_s,
        system_s,
    })
}

impl Timed {
    fn print(self, what: &str) {
        println!(
            "{what:28} {:8.2} s ({:.2} s of processors, {:.2} s of them in the system)",
            self.wall_s, self.processor_s, self.system_s
        );
    }
}

/// Prints the medians of two things that were measured in turn, and of the ratio of each pair.
fn compare(one: &str, ones: &[Timed], other: &str, others: &[Timed]) {
    for (what, all) in [(one, ones), (other, others)] {
        let of = |take: fn(&Timed) -> f64| median(all.iter().map(take).collect());
        let (wall_s, processor_s) = (of(|t| t.wall_s), of(|t| t.processor_s));
        Timed { wall_s, processor_s, system_s: of(|t| t.system_s) }.print(what);
    }
    let ratio = |take: fn(&Timed) -> f64| {
        median(ones.iter().zip(others).map(|(one, other)| take(other) / take(one)).collect())
    };
    let (wall, processor) = (ratio(|t| t.wall_s), ratio(|t| t.processor_s));
    println!(
        "{other} / {one}: {wall:.2} in time, {processor:.2} in processor time (medians of {})",
        ones.len()
    );
    println!("    that is, at {:.0} % of its rate", 100.0 / wall);
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(f64::NAN)
}

/// Makes the study where it is not there, and adds every series.
fn import(folder: &Path, path: &Path, n_series: usize, method: &str) -> Fallible<()> {
    let by = By::new("bench", "measuring the speed of an import")?;
    let mut study = if path.exists() {
        Study::open_now(path)?
    } else {
        Study::create(path, "bench", method, &by, Clock::system())?
    };
    for series in 0..n_series {
        study.add(&Delivery::of_folder(&folder.join(format!("series-{series:04}")))?, &by, |_| {})?;
    }
    Ok(())
}

type Text = ([u8; 32], i64, Vec<u8>);
type Columns = (Vec<u8>, Vec<u8>);

/// Every blob of a study, in memory.
struct Blobs {
    texts: Vec<Text>,
    scans: Vec<Columns>,
}

impl Blobs {
    fn of(study: &Path) -> Fallible<Self> {
        let from = Connection::open(study)?;
        let mut statement = from.prepare("SELECT hash, n_bytes, packed FROM content")?;
        let texts = statement
            .query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))?
            .collect::<Result<_, _>>()?;
        let mut statement = from.prepare("SELECT potential_v, current_a FROM scan")?;
        let scans =
            statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?.collect::<Result<_, _>>()?;
        Ok(Self { texts, scans })
    }

    /// Writes them in one transaction, and closes the file.
    fn straight(&self, to: &Path) -> Fallible<()> {
        let mut connection = Connection::open(to)?;
        connection.pragma_update(None, "page_size", 16384)?;
        connection.pragma_update(None, "journal_mode", "WAL")?;
        connection.pragma_update(None, "synchronous", "FULL")?;
        connection.execute_batch(
            "CREATE TABLE content(hash BLOB, n_bytes INTEGER, packed BLOB) STRICT;
             CREATE TABLE scan(potential_v BLOB, current_a BLOB) STRICT;",
        )?;
        let transaction = connection.transaction()?;
        for (hash, n_bytes, packed) in &self.texts {
            let mut insert = transaction.prepare_cached("INSERT INTO content VALUES (?1, ?2, ?3)")?;
            insert.execute(params![hash, n_bytes, packed])?;
        }
        for (potential_v, current_a) in &self.scans {
            let mut insert = transaction.prepare_cached("INSERT INTO scan VALUES (?1, ?2)")?;
            insert.execute(params![potential_v, current_a])?;
        }
        transaction.commit()?;
        Ok(())
    }
}

fn read_blobs(path: &Path) -> Fallible<()> {
    let connection = Connection::open(path)?;
    let mut statement = connection.prepare("SELECT potential_v, current_a FROM scan")?;
    let mut rows = statement.query([])?;
    let mut n_bytes = 0;
    while let Some(row) = rows.next()? {
        let columns: Columns = (row.get(0)?, row.get(1)?);
        n_bytes += columns.0.len() + columns.1.len();
    }
    if n_bytes == 0 { Err("there are no numbers".into()) } else { Ok(()) }
}

fn write_series(folder: &Path, series: usize, n_points: usize) -> Fallible<()> {
    fs::create_dir(folder)?;
    let mut sheet =
        String::from("file,scan,role,sample,level,unit,lot,electrode,channel,batch,date,temperature_c\n");
    for index in 0..SERIES_SCANS {
        let (role, sample, level) = match index {
            0..10 => ("blank", String::new(), 0.0),
            10..70 => ("standard", String::new(), LEVELS.get(index % 6).copied().unwrap_or(0.0)),
            _ => ("sample", format!("S{series}-{}", index / 3), 5.0 + (index / 3 % 90) as f64),
        };
        let stated = if role == "standard" { format!("{level},mg/L as NO3-") } else { ",".to_owned() };
        let name = format!("s{series:04}-{index:04}.csv");
        writeln!(sheet, "{name},1,{role},{sample},{stated},L{series},e{index},1,B{series},2026-05-12,21.0")?;
        let mut random = RandomStream::new(series as u64, index as u64);
        fs::write(folder.join(&name), scan_text(level, index, n_points, &mut random)?)?;
    }
    fs::write(folder.join("run-sheet.csv"), sheet)?;
    Ok(())
}

/// A peak at −0.61 V on a sloping background, with noise and a spread between electrodes of 2 %.
fn scan_text(level: f64, index: usize, n_points: usize, random: &mut RandomStream) -> Fallible<String> {
    let mut text = String::from("potential / V,current / uA\n");
    let sensitivity = 0.1 * (1.0 + 0.02 * random.normal());
    let background = if index < 10 { 4.0 } else { 4.0 + 0.01 * random.normal() };
    for point in 0..n_points {
        let potential_v = -0.3 - 0.6 * point as f64 / (n_points - 1) as f64;
        let distance = (potential_v + 0.61) / 0.035;
        let peak_ua = sensitivity * level * libm_exp(-0.5 * distance * distance);
        let current_ua = -background + 2.0 * potential_v - peak_ua + 0.004 * random.normal();
        writeln!(text, "{potential_v:.5},{current_ua:.5}")?;
    }
    Ok(text)
}

/// Enough of an exponential for a made-up peak: (1 + x/1024)^1024.
fn libm_exp(x: f64) -> f64 {
    (0..10).fold((1.0 + x / 1024.0).max(0.0), |power, _| power * power)
}

fn method(n_points: usize, revision: &str, temperature_coefficient: f64, pins: &str) -> String {
    let step_v = 0.6 / (n_points - 1) as f64;
    format!(
        "[method]\nname = \"bench\"\nrevision = \"{revision}\"\n\
         [method.analyte]\nname = \"nitrate\"\nreported_as = \"mg/L as NO3-\"\nsignal_includes = [\"nitrate\"]\n\
         [technique]\nkind = \"square-wave\"\nstart_v = -0.3\nend_v = -0.9\nstep_v = {step_v}\namplitude_v = 0.025\nfrequency_hz = 25.0\n\
         [electrode]\nmaterial = \"copper-modified carbon\"\narea_mm2 = 7.1\nsingle_use = true\nconditioning = \"none\"\n\
         [reference]\nkind = \"printed silver / silver chloride\"\nshift_limit_v = 0.03\n\
         [sample]\nelectrolyte = \"0.1 mol/L sodium sulphate\"\nwait_s = 60\nelectrodes = 3\n\
         temperature_c = [10.0, 30.0]\ntemperature_tolerance_k = 1.0\n\
         temperature_coefficient_per_k = {temperature_coefficient}\ntemperature_coefficient_u_per_k = 0.003\n\
         [evaluation]\nblank = \"subtract\"\nsmooth = {{ kind = \"savitzky-golay\", window = 11, degree = 2 }}\n\
         baseline = {{ kind = \"line\", left_v = [-0.42, -0.38], right_v = [-0.84, -0.80] }}\n\
         peak = {{ window_v = [-0.50, -0.72], direction = \"reduction\", measure = \"height\" }}\n\
         [calibration]\nmodel = \"line\"\nweights = \"variance-function\"\nlevels = [0, 10, 25, 50, 75, 100]\nelectrodes = 3\n\
         per = \"lot\"\ncoverage = 0.95\ndetection = \"iso-11843-2\"\nalpha = 0.05\nbeta = 0.05\nlevel_relative_u = 0.01\n\
         [calibration.acceptance]\nback_calculated_percent = 30.0\ncheck_standard_percent = 20.0\nblank_fraction = 0.5\ncontrol_percent = 20.0\n\
         [trust]\nnoise_a = 0.1e-6\noffset_a = 12.0e-6\n\
         [[limits]]\nuse = \"who-nitrate\"\n{pins}"
    )
}

/// Processor time of this process so far, all threads, s: the program's own and the system's; where the system tells it in
/// hundredths.
fn processor_s() -> [f64; 2] {
    let stat = fs::read_to_string("/proc/self/stat").unwrap_or_default();
    let after_name = stat.rsplit_once(')').map_or("", |(_, rest)| rest);
    let mut ticks = after_name.split_whitespace().skip(11).map(|n| n.parse::<f64>().unwrap_or(0.0));
    [ticks.next().unwrap_or(0.0) / 100.0, ticks.next().unwrap_or(0.0) / 100.0]
}

/// Highest memory of this process so far, where the system tells it.
fn peak_memory_mib() -> u64 {
    let status = fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    line.and_then(|rest| rest.split_whitespace().next()?.parse::<u64>().ok()).unwrap_or(0) / 1024
}
