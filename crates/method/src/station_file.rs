//! What sensors that stay in the water read: one line a reading, of one station or several.
//!
//! Without levels the lines of a station are its series, one a day. With levels they are a trial: the sensor stood in solutions of
//! known level, one after the other. Every line is checked before anything is computed; a bound stays a bound.

use std::collections::BTreeMap;

use stillwell_assure::control::{PointValue, day_of};
use stillwell_assure::sensor::{SeriesReading, TrialReading};
use stillwell_quantity::QuantityKind;
use stillwell_scan::{CurrentUnit, PotentialUnit};

use crate::problem::{Place, Problem, Problems};
use crate::sheet_text::{Cell, columns_by_name, cut, delimiter_of};

/// The columns: `value`, `unit` and one column of time must be there.
pub const STATION_COLUMNS: [&str; 10] =
    ["station", "date", "time", "time_s", "time_min", "time_h", "value", "unit", "level", "level_unit"];

/// The columns of time, and how many seconds one of theirs is; none for those that hold a date.
const TIMES: [(&str, Option<f64>); 5] = [
    ("date", None),
    ("time", None),
    ("time_s", Some(1.0)),
    ("time_min", Some(60.0)),
    ("time_h", Some(3600.0)),
];

const FIRST_LINE: &str = "first line: date,value,unit for a series, one line a day; time,value,unit,level for a trial (or time_s, time_min, time_h for the time that went by); station may be added";

/// Problems of one file that are told one by one.
const MOST_TOLD: usize = 20;

/// The unit of a station's readings.
#[derive(Debug, Clone, PartialEq)]
pub enum StationUnit {
    /// A concentration.
    Concentration(QuantityKind),
    /// A sensor's own signal, such as µA.
    Signal(String),
}

impl std::fmt::Display for StationUnit {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Concentration(kind) => kind.fmt(f),
            Self::Signal(unit) => f.write_str(unit),
        }
    }
}

/// What a station read.
#[derive(Debug, Clone, PartialEq)]
pub enum StationReadings {
    /// Day by day.
    Series(Vec<SeriesReading>),
    /// In solutions of known level.
    Trial(Vec<TrialReading>),
}

/// One station.
#[derive(Debug, Clone, PartialEq)]
pub struct Station {
    /// Its name; empty where not stated.
    pub name: String,
    /// The unit of its readings.
    pub unit: StationUnit,
    /// The unit of the levels of a trial, as written; that of the readings where it states none.
    pub level_unit: String,
    /// What it read.
    pub readings: StationReadings,
}

/// The stations of a file, in the order in which they come up.
#[derive(Debug, Clone, PartialEq)]
pub struct StationFile {
    /// At least one.
    pub stations: Vec<Station>,
}

impl StationFile {
    /// Reads the file.
    ///
    /// # Units
    /// Those of the column `unit`, one for all lines of a station: a concentration with its species and form, or a current or potential.
    ///
    /// # Errors
    /// Every line that is wrong, each with its place and what would be accepted.
    ///
    /// # Example
    /// ```
    /// use stillwell_method::{StationFile, StationReadings};
    /// let text = "date,value,unit\n2026-05-01,4.1,mg/L nitrate as N\n2026-05-02,<0.04,mg/L nitrate as N\n";
    /// let read = StationFile::parse("weir.csv", text)?;
    /// assert!(matches!(&read.stations[0].readings, StationReadings::Series(days) if days.len() == 2));
    /// let twice = StationFile::parse("weir.csv", &text.replace("05-02", "05-01")).unwrap_err();
    /// assert!(twice.to_string().contains("2026-05-01 comes twice"));
    /// # Ok::<(), stillwell_method::Problems>(())
    /// ```
    pub fn parse(file: &str, text: &str) -> Result<Self, Problems> {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let delimiter = delimiter_of(text);
        let mut lines = cut(text, delimiter).into_iter();
        let header = lines.next().unwrap_or_default();
        let mut problems = Vec::new();
        let columns = columns(file, &header, &mut problems);
        let Some(columns) = columns.filter(|_| problems.is_empty()) else {
            return Err(Problems { problems });
        };
        let mut reader = Reader { file, columns, decimal_comma: delimiter != ',', problems };
        let lines: Vec<Line> = lines.filter_map(|cells| reader.line(&cells)).collect();
        let mut problems = reader.problems;
        let stations: Vec<Station> =
            by_station(&lines).iter().filter_map(|lines| station(lines, &mut problems)).collect();
        if lines.is_empty() && problems.is_empty() {
            problems.push(Problem::new(Place::whole_file(file), "holds no reading", FIRST_LINE));
        }
        problems.sort_by_key(|problem| (problem.place.line, problem.place.column));
        shorten(file, &mut problems);
        Problems::or(problems, Some(Self { stations }))
    }
}

/// A column that is wrong on every line is told often enough.
fn shorten(file: &str, problems: &mut Vec<Problem>) {
    let n_more = problems.len().saturating_sub(MOST_TOLD);
    if n_more > 1 {
        problems.truncate(MOST_TOLD);
        let found = format!("{n_more} more problems of this kind are not told one by one");
        problems.push(Problem::new(Place::whole_file(file), found, "mend these first"));
    }
}

struct Columns {
    places: BTreeMap<&'static str, usize>,
    time: (&'static str, Option<f64>),
}

fn columns(file: &str, header: &[Cell], problems: &mut Vec<Problem>) -> Option<Columns> {
    let places = columns_by_name(file, header, &STATION_COLUMNS, FIRST_LINE, problems);
    if !problems.is_empty() {
        return None;
    }
    let mut complain =
        |found: String| problems.push(Problem::new(Place::whole_file(file), found, FIRST_LINE));
    for required in ["value", "unit"].iter().filter(|name| !places.contains_key(**name)) {
        complain(format!("the header has no column `{required}`"));
    }
    let times: Vec<(&str, Option<f64>)> =
        TIMES.into_iter().filter(|(name, _)| places.contains_key(name)).collect();
    match times.as_slice() {
        [time] => Some(Columns { places, time: *time }),
        [] => {
            complain("the header has no column of time".to_owned());
            None
        }
        [(one, _), (other, _), ..] => {
            complain(format!("`{one}` and `{other}` are both columns of time"));
            None
        }
    }
}

/// One line, its cells read.
struct Line {
    station: String,
    time: Place,
    /// Seconds from any fixed time, and the day where the time is a date.
    at_s: f64,
    day: Option<i32>,
    date: String,
    value: PointValue,
    value_at: Place,
    unit: StationUnit,
    /// The unit as written: the same letters may mean another species only where they say so.
    unit_text: String,
    unit_at: Place,
    level: Level,
    level_unit: String,
}

struct Reader<'a> {
    file: &'a str,
    columns: Columns,
    decimal_comma: bool,
    problems: Vec<Problem>,
}

impl Reader<'_> {
    fn text<'c>(&self, cells: &'c [Cell], column: &str) -> &'c str {
        self.columns.places.get(column).and_then(|at| cells.get(*at)).map_or("", |cell| cell.text.as_str())
    }

    fn place(&self, cells: &[Cell], column: &str) -> Place {
        let cell = self.columns.places.get(column).and_then(|at| cells.get(*at)).or_else(|| cells.first());
        cell.map_or_else(|| Place::whole_file(self.file), |cell| cell.place(self.file))
    }

    fn complain(&mut self, cells: &[Cell], column: &str, found: String, cure: &str) {
        let problem = Problem::new(self.place(cells, column), found, cure);
        self.problems.push(problem);
    }

    fn number(&self, text: &str) -> Option<f64> {
        let plain = if self.decimal_comma { text.replace(',', ".") } else { text.to_owned() };
        plain.trim().parse::<f64>().ok().filter(|number| number.is_finite())
    }

    /// Reads every cell before it gives up, so that all that is wrong with a line is told at once.
    fn line(&mut self, cells: &[Cell]) -> Option<Line> {
        let time = self.time(cells);
        let value = self.value(cells);
        let unit = self.unit(cells);
        let level = self.level(cells);
        let (name, _) = self.columns.time;
        let (at_s, day) = time?;
        Some(Line {
            station: self.text(cells, "station").to_owned(),
            time: self.place(cells, name),
            at_s,
            day,
            date: self.text(cells, name).to_owned(),
            value: value?,
            value_at: self.place(cells, "value"),
            unit: unit?,
            unit_text: self.text(cells, "unit").to_owned(),
            unit_at: self.place(cells, "unit"),
            level: level?,
            level_unit: self.text(cells, "level_unit").to_owned(),
        })
    }

    fn time(&mut self, cells: &[Cell]) -> Option<(f64, Option<i32>)> {
        let (name, seconds) = self.columns.time;
        let text = self.text(cells, name);
        let (read, cure) = match seconds {
            Some(seconds) => {
                (self.number(text).map(|number| (seconds * number, None)), "a number: the time that went by")
            }
            None => (date_and_time(text), "a date such as 2026-05-04, or with the time 2026-05-04T10:15:30"),
        };
        if read.is_none() {
            self.complain(cells, name, format!("\"{text}\" is no time"), cure);
        }
        read
    }

    fn value(&mut self, cells: &[Cell]) -> Option<PointValue> {
        let text = self.text(cells, "value");
        let bound = |sign: char| text.strip_prefix(sign).map(|bound| self.number(bound));
        let read = match (bound('<'), bound('>')) {
            (Some(bound), _) => bound.map(PointValue::LessThan),
            (_, Some(bound)) => bound.map(PointValue::MoreThan),
            _ if text.is_empty() => Some(PointValue::Missing),
            _ => self.number(text).map(PointValue::Found),
        };
        if read.is_none() {
            let cure =
                "a number, or a bound such as <0.04 or >100; leave the cell blank where nothing was read";
            self.complain(cells, "value", format!("\"{text}\" is not accepted"), cure);
        }
        read
    }

    fn unit(&mut self, cells: &[Cell]) -> Option<StationUnit> {
        let text = self.text(cells, "unit");
        let signal = CurrentUnit::from_word(text).map(|_| ()).or(PotentialUnit::from_word(text).map(|_| ()));
        if signal.is_some() {
            return Some(StationUnit::Signal(text.to_owned()));
        }
        match QuantityKind::parse(text, None) {
            Ok(parsed) => Some(StationUnit::Concentration(parsed.value)),
            Err(error) => {
                let cure = "a unit with its species and form, such as mg/L nitrate as N or mg/L as NO3-; or that of a signal, such as µA";
                let found =
                    if text.is_empty() { "a reading without a unit".to_owned() } else { error.to_string() };
                self.complain(cells, "unit", found, cure);
                None
            }
        }
    }

    fn level(&mut self, cells: &[Cell]) -> Option<Level> {
        let text = self.text(cells, "level");
        if text.is_empty() {
            return Some(Level::NotStated);
        }
        let read = self.number(text).filter(|level| *level >= 0.0);
        if read.is_none() {
            let cure = "the known level of the solution, 0 or more";
            self.complain(cells, "level", format!("\"{text}\" is not accepted"), cure);
        }
        read.map(Level::Known)
    }
}

/// What a line says of the solution.
#[derive(Debug, Clone, Copy)]
enum Level {
    Known(f64),
    NotStated,
}

impl Level {
    const fn known(self) -> Option<f64> {
        match self {
            Self::Known(level) => Some(level),
            Self::NotStated => None,
        }
    }
}

/// Seconds since 1970 and the day of a date, with or without a time of day behind it.
fn date_and_time(text: &str) -> Option<(f64, Option<i32>)> {
    let day = day_of(text)?;
    let Some((_, clock)) = text.trim().split_once(['T', ' ']) else {
        return Some((86_400.0 * f64::from(day), Some(day)));
    };
    let mut parts = clock.trim_end_matches('Z').split(':').map(str::parse::<f64>);
    let (hour, minute) = (parts.next()?.ok()?, parts.next()?.ok()?);
    let second = parts.next().unwrap_or(Ok(0.0)).ok()?;
    let is_time = (0.0..24.0).contains(&hour)
        && (0.0..60.0).contains(&minute)
        && (0.0..61.0).contains(&second)
        && parts.next().is_none();
    is_time.then(|| (86_400.0 * f64::from(day) + 3600.0 * hour + 60.0 * minute + second, Some(day)))
}

/// The lines of each station, stations in the order in which they come up.
fn by_station(lines: &[Line]) -> Vec<Vec<&Line>> {
    let mut places: BTreeMap<&str, usize> = BTreeMap::new();
    let mut stations: Vec<Vec<&Line>> = Vec::new();
    for line in lines {
        let place = *places.entry(&line.station).or_insert(stations.len());
        match stations.get_mut(place) {
            Some(lines) => lines.push(line),
            None => stations.push(vec![line]),
        }
    }
    stations
}

/// One station from its lines; what does not fit together is told.
fn station(lines: &[&Line], problems: &mut Vec<Problem>) -> Option<Station> {
    let before = problems.len();
    let first = *lines.first()?;
    mixed_units(first, lines, problems);
    let with_level = lines.iter().filter(|line| line.level.known().is_some()).count();
    let readings = match with_level {
        0 => series(lines, problems),
        n if n == lines.len() => trial(lines, problems),
        _ => {
            if let Some(odd) =
                lines.iter().find(|line| line.level.known().is_some() != first.level.known().is_some())
            {
                let found = "some lines of a station state a level and some do not";
                let cure = "a trial states the level on every line; give the trial a station name of its own";
                problems.push(Problem::new(odd.time.clone(), found, cure));
            }
            return None;
        }
    };
    let level_unit =
        if first.level_unit.is_empty() { first.unit.to_string() } else { first.level_unit.clone() };
    let station = Station { name: first.station.clone(), unit: first.unit.clone(), level_unit, readings };
    (problems.len() == before).then_some(station)
}

fn mixed_units(first: &Line, lines: &[&Line], problems: &mut Vec<Problem>) {
    for line in lines.iter().filter(|line| line.unit != first.unit) {
        let found = format!(
            "{} here, and {} in line {}: units or species are mixed in one series",
            line.unit_text, first.unit_text, first.unit_at.line
        );
        let cure = "one unit and form for all readings of a station; convert them where they come from, or give them a station name of their own";
        problems.push(Problem::new(line.unit_at.clone(), found, cure));
    }
    for line in lines.iter().filter(|line| line.level_unit != first.level_unit) {
        let found = format!(
            "levels in \"{}\" here, and in \"{}\" in line {}",
            line.level_unit, first.level_unit, first.unit_at.line
        );
        problems.push(Problem::new(line.unit_at.clone(), found, "one unit for all levels of a trial"));
    }
}

fn series(lines: &[&Line], problems: &mut Vec<Problem>) -> StationReadings {
    let mut days: BTreeMap<i32, usize> = BTreeMap::new();
    let mut last: Option<(i32, usize)> = None;
    for line in lines {
        let Some(day) = line.day else {
            let found = "a series without levels needs dates";
            let cure = "the column date; or the column level, where the sensor stood in known solutions";
            problems.push(Problem::new(line.time.clone(), found, cure));
            break;
        };
        let date = line.date.split(['T', ' ']).next().unwrap_or_default();
        if let Some(known) = days.insert(day, line.time.line) {
            let found = format!("{date} comes twice, first in line {known}");
            let cure = "one line a day; nothing is averaged here: keep the reading that counts";
            problems.push(Problem::new(line.time.clone(), found, cure));
        } else if last.is_some_and(|(before, _)| day < before) {
            let found = format!("{date} stands after a later day");
            problems.push(Problem::new(
                line.time.clone(),
                found,
                "sort the lines of a station by their dates",
            ));
        }
        last = Some((day, line.time.line));
    }
    one_reading(lines, problems);
    StationReadings::Series(
        lines.iter().filter_map(|line| Some(SeriesReading { day: line.day?, value: line.value })).collect(),
    )
}

fn trial(lines: &[&Line], problems: &mut Vec<Problem>) -> StationReadings {
    let mut before: Option<&Line> = None;
    for line in lines {
        if matches!(line.value, PointValue::LessThan(_) | PointValue::MoreThan(_)) {
            let found = "a bound in a trial";
            let cure = "the reading itself, before it is called \"less than\": no figure of a sensor can be made from a bound";
            problems.push(Problem::new(line.value_at.clone(), found, cure));
        }
        if let Some(last) = before.filter(|last| line.at_s <= last.at_s) {
            let found = format!("{} does not come after {} in line {}", line.date, last.date, last.time.line);
            let cure = "the lines of a trial in the order of time, each time once; state the time of day";
            problems.push(Problem::new(line.time.clone(), found, cure));
        }
        before = Some(line);
    }
    one_reading(lines, problems);
    let reading = |line: &&Line| {
        Some(TrialReading { at_s: line.at_s, level: line.level.known()?, reading: line.value.number() })
    };
    StationReadings::Trial(lines.iter().filter_map(reading).collect())
}

fn one_reading(lines: &[&Line], problems: &mut Vec<Problem>) {
    let mut known = lines.iter().filter(|line| !matches!(line.value, PointValue::Missing));
    if let (Some(only), None) = (known.next().or(lines.first()), known.next()) {
        let name = if only.station.is_empty() { String::new() } else { format!("{}: ", only.station) };
        let found = format!("{name}one reading only, or none");
        let cure = "a single reading says nothing of a sensor or a station: two or more are needed";
        problems.push(Problem::new(only.time.clone(), found, cure));
    }
}
