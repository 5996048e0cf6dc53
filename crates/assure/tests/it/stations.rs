//! Series of stations: planted faults are found and named, sound series stay quiet, and real counts are reproduced.

use std::path::Path;

use stillwell_assure::control::{PointValue, day_of};
use stillwell_assure::sensor::{
    SeriesFinding, SeriesMean, SeriesReading, SeriesSettings, StandsAlone, exceedances, look_over,
    series_summary,
};
use stillwell_assure::{NamedLimit, QualityError, find_limit};
use stillwell_quantity::{QuantityKind, Species, Unit};
use stillwell_stats::random::RandomStream;

/// A table of recorded data beside the repository, cell by cell; none where it is missing, which the strict setting forbids.
pub(crate) fn shared_csv(path: &str) -> Option<Vec<Vec<String>>> {
    let place = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../../shared/realdata").join(path);
    let Ok(text) = std::fs::read_to_string(&place) else {
        let is_required = std::env::var("STILLWELL_REQUIRE_ALL").is_ok_and(|value| value == "1");
        assert!(!is_required, "{path} is missing");
        println!("SKIPPED: {path} is missing");
        return None;
    };
    Some(text.lines().map(|line| line.split(',').map(str::to_owned).collect()).collect())
}

fn as_n() -> QuantityKind {
    QuantityKind { unit: Unit::MilligramPerLitre, species: Species::nitrate_plus_nitrite_as_n() }
}

fn station(id: &str, rows: &[Vec<String>]) -> Vec<SeriesReading> {
    let of_station = rows[1..].iter().filter(|row| row[0] == id);
    of_station
        .map(|row| SeriesReading {
            day: day_of(&row[1]).unwrap(),
            value: row[3].parse().map_or(PointValue::Missing, PointValue::Found),
        })
        .collect()
}

#[test]
fn five_stations_in_iowa() {
    let Some(rows) = shared_csv("nitrate-river-stations-iowa/daily.csv") else { return };
    let us = find_limit("us-nitrate").unwrap();
    let who = find_limit("who-nitrate").unwrap();
    // Station, days with a number, days above 10 mg/L as N, days above 50 mg/L as nitrate. The notes beside the data count 190
    // for the third station with 11.29 mg/L as N; 50 mg/L are 11.295, and one day lies between.
    let expected = [
        ("05482300", 1452, 539, 385),
        ("05482500", 1242, 436, 272),
        ("05483600", 974, 324, 189),
        ("05484000", 1344, 119, 69),
        ("05484500", 1404, 263, 137),
    ];
    for (id, n_days, above_us, above_who) in expected {
        let series = station(id, &rows);
        let (us, who) =
            (exceedances(&series, &as_n(), &us).unwrap(), exceedances(&series, &as_n(), &who).unwrap());
        println!("{id}: {}", us.words("mg/L as N"));
        assert_eq!((us.n_days, us.n_above, who.n_above), (n_days, above_us, above_who), "{id}");
        assert!((who.limit_in_series - 11.295).abs() < 0.001);
        let findings = look_over(&series, SeriesSettings::default()).unwrap();
        let count = |is: fn(&SeriesFinding) -> bool| findings.iter().filter(|found| is(found)).count();
        let n_gaps = count(|found| matches!(found, SeriesFinding::Gap { from, to } if to > from));
        println!(
            "{id}: {n_gaps} gaps of several days, {} stuck, {} alone, {} far from the rest",
            count(|found| matches!(found, SeriesFinding::Stuck { .. })),
            count(|found| matches!(found, SeriesFinding::StandsAlone(_))),
            count(|found| matches!(found, SeriesFinding::FarFromRest { .. })),
        );
        assert!(n_gaps <= 19);
        if id == "05483600" {
            // Ten days at one number, where neighbours are equal on hardly any other day.
            assert!(findings.iter().any(|found| matches!(found, SeriesFinding::Stuck { n: 10, .. })));
        }
        if id == "05482500" {
            // The readings of 0.01 mg/L in the dry late summer of 2017.
            let is_there = |found: &SeriesFinding| matches!(found, SeriesFinding::FarFromRest { extreme, .. } if *extreme < 0.015);
            assert!(findings.iter().any(is_there), "{findings:?}");
        }
    }
}

/// A river: slow ups and downs on a logarithmic scale, written down to 0.01.
fn river(index: u64) -> Vec<SeriesReading> {
    let mut random = RandomStream::new(77, index);
    let mut level = 0.0;
    (0..730)
        .map(|day| {
            level = 0.95 * level + 0.1 * random.normal();
            let value = (100.0 * libm::exp(2.0 + level)).round() / 100.0;
            SeriesReading { day, value: PointValue::Found(value) }
        })
        .collect()
}

#[test]
fn sound_rivers_stay_quiet() {
    let n: u32 = 1000;
    let mut loud = 0;
    for index in 0..n {
        loud +=
            u32::from(!look_over(&river(u64::from(index)), SeriesSettings::default()).unwrap().is_empty());
    }
    println!("findings in {loud} of {n} sound series of two years");
    assert!(loud < 10, "{loud}");
}

#[test]
fn planted_faults_are_named() {
    for index in 0..50 {
        let mut series = river(1000 + index);
        let stuck = series[200].value;
        for reading in &mut series[200..206] {
            reading.value = stuck;
        }
        series[400].value = PointValue::Found(4.0 * series[400].value.number().unwrap());
        series.drain(500..510);
        for reading in &mut series[600..603] {
            reading.value = PointValue::Found(0.01);
        }
        let found = look_over(&series, SeriesSettings::default()).unwrap();
        let has = |is: &dyn Fn(&SeriesFinding) -> bool| found.iter().any(is);
        assert!(
            // A neighbour may read the same by chance.
            has(
                &|found| matches!(found, SeriesFinding::Stuck { from, to, .. } if *from <= 200 && *to >= 205)
            ),
            "{found:?}"
        );
        assert!(
            has(&|found| matches!(found, SeriesFinding::StandsAlone(StandsAlone { day: 400, .. }))),
            "{found:?}"
        );
        assert!(has(&|found| matches!(found, SeriesFinding::Gap { from: 500, to: 509 })), "{found:?}");
        assert!(has(&|found| matches!(found, SeriesFinding::FarFromRest { n: 3, .. })), "{found:?}");
        assert_eq!(found.len(), 4, "{found:?}");
    }
    let mut series = river(1);
    series[7].value = series[6].value;
    series.drain(100..140);
    series[300].value = PointValue::Found(0.0);
    let words: Vec<String> = look_over(&series, SeriesSettings::default())
        .unwrap()
        .iter()
        .map(|found| found.words("mg/L as N", |day| format!("day {day}")))
        .collect();
    insta::assert_snapshot!(words.join("\n"));
}

#[test]
fn a_day_that_comes_twice_is_refused() {
    let mut series = river(2);
    series[9].day = 8;
    let found = look_over(&series, SeriesSettings::default());
    assert_eq!(found, Err(QualityError::TimesNotRising { what: "the series", place: 10 }));
    assert!(matches!(look_over(&river(3)[..5], SeriesSettings::default()), Err(QualityError::TooFew { .. })));
}

#[test]
fn a_limit_of_another_substance_is_refused() {
    let kind = QuantityKind { unit: Unit::MilligramPerLitre, species: Species::nitrite() };
    let limit: NamedLimit = find_limit("us-nitrate").unwrap();
    assert!(exceedances(&river(4), &kind, &limit).is_err());
    // Nitrate and nitrite together say nothing of nitrite alone, and count for nitrate with a word of caution.
    let nitrite = exceedances(&river(4), &as_n(), &find_limit("us-nitrite").unwrap());
    assert!(nitrite.is_err(), "{nitrite:?}");
    let nitrate = exceedances(&river(4), &as_n(), &limit).unwrap();
    assert!(nitrate.is_together && nitrate.words("mg/L as N").contains("can only err upwards"));
}

#[test]
fn bounds_are_neither_gaps_nor_zeros_and_may_leave_a_count_open() {
    let mut series = river(5);
    series.truncate(60);
    // What lies below 6.5 was only found to be less.
    let mut hidden = 0.0;
    for reading in &mut series {
        if let Some(value) = reading.value.number().filter(|value| *value < 6.5) {
            hidden += value;
            reading.value = PointValue::LessThan(6.5);
        }
    }
    series[30].value = PointValue::LessThan(60.0);
    series[31].value = PointValue::Missing;
    let who = find_limit("who-nitrate").unwrap();
    let kind = QuantityKind { unit: Unit::MilligramPerLitre, species: Species::nitrate() };
    let found = exceedances(&series, &kind, &who).unwrap();
    assert_eq!((found.n_days, found.n_undecided, found.n_span), (58, 1, 60));
    let gaps = look_over(&series, SeriesSettings::default()).unwrap();
    assert!(gaps.contains(&SeriesFinding::Gap { from: 31, to: 31 }), "{gaps:?}");
    assert_eq!(gaps.len(), 1, "{gaps:?}");
    let summary = series_summary(&series);
    assert_eq!(summary.n_numbers + summary.n_bounds, 59);
    assert!(summary.n_bounds > 5, "{summary:?}");
    let SeriesMean::Censored { at_least, at_most, by_regression } = summary.mean else {
        panic!("{summary:?}")
    };
    // The truth, but for the one reading that "<60" hides entirely.
    let numbers: f64 = series.iter().filter_map(|reading| reading.value.number()).sum();
    let truth = (numbers + hidden) / 58.0;
    assert!(at_least < truth && truth < at_most, "{truth} {summary:?}");
    assert!(by_regression.is_some_and(|mean| (mean / truth - 1.0).abs() < 0.02), "{truth} {summary:?}");
    insta::assert_snapshot!([summary.words("mg/L"), found.words("mg/L")].join("\n"));
}

/// The sample series of the water data formats: seven days, two of them "less than".
#[test]
fn the_censored_sample_series() {
    let Some(rows) = shared_csv("water-data-format-samples/ChoptankRiverNitrate_semicolon_censored.csv")
    else {
        return;
    };
    let series: Vec<SeriesReading> = rows[1..]
        .iter()
        .filter_map(|row| {
            let cells: Vec<&str> = row[0].split(';').collect();
            let number: f64 = cells[2].parse().ok()?;
            let value =
                if cells[1] == "<" { PointValue::LessThan(number) } else { PointValue::Found(number) };
            Some(SeriesReading { day: day_of(cells[0])?, value })
        })
        .collect();
    let found = series_summary(&series);
    println!("{}", found.words("mg/L"));
    assert_eq!((found.n_numbers, found.n_bounds), (5, 2));
    let SeriesMean::Censored { at_least, at_most, by_regression } = found.mean else { panic!("{found:?}") };
    // Both bounds lie below every number: between zero and the bounds is all that can be said, and no single mean is stated.
    let sum: f64 = series.iter().filter_map(|reading| reading.value.number()).sum();
    assert!((at_least - sum / 7.0).abs() < 1e-12 && (at_most - (sum + 0.99 + 1.24) / 7.0).abs() < 1e-12);
    assert_eq!(by_regression, None, "five numbers carry no line");
}
