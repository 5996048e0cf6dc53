//! The shipped limits against their documents, and a user's own limits.

use stillwell_assure::{AssureError, NamedLimit, find_limit, find_sum, shipped_limits, shipped_sums};
use stillwell_quantity::{QuantityKind, Species};

use crate::checks::{mg_per_l, number, read, rows, text};

const CHECKS: &str = include_str!("../../../../checks/water_limits.toml");

#[test]
fn every_shipped_limit_stands_in_its_document() {
    let checks = read(CHECKS);
    let mut count = 0;
    for row in rows(&checks, "limit") {
        let id = text(row, "id");
        let limit = find_limit(id).unwrap();
        let kind = QuantityKind::parse(text(row, "kind"), None).unwrap().value;
        println!("{id:22} {limit:24} {}, {}", limit.document(), limit.clause());
        assert_eq!((limit.value().to_bits(), limit.kind()), (number(row, "value").to_bits(), &kind), "{id}");
        assert_eq!((limit.document(), limit.clause()), (text(row, "source"), text(row, "clause")), "{id}");
        count += 1;
    }
    assert_eq!(count, shipped_limits().len());
}

#[test]
fn every_shipped_sum_rule_stands_in_its_document() {
    let checks = read(CHECKS);
    let mut count = 0;
    for row in rows(&checks, "sum") {
        let id = text(row, "id");
        let sum = find_sum(id).unwrap();
        let kind = |key: &str| QuantityKind::parse(text(row, key), None).unwrap().value;
        assert_eq!(sum.nitrate_mg_per_l().to_bits(), number(row, "nitrate").to_bits(), "{id}");
        assert_eq!(sum.nitrite_mg_per_l().to_bits(), number(row, "nitrite").to_bits(), "{id}");
        assert_eq!(
            (mg_per_l(sum.nitrate().clone()), mg_per_l(sum.nitrite().clone())),
            (kind("nitrate_kind"), kind("nitrite_kind")),
            "{id}"
        );
        assert_eq!((sum.document(), sum.clause()), (text(row, "source"), text(row, "clause")), "{id}");
        count += 1;
    }
    assert_eq!(count, shipped_sums().len());
}

#[test]
fn an_unknown_id_names_the_known_ones() {
    let refusal = find_limit("who-nitrat").unwrap_err().to_string();
    assert!(refusal.contains("who-nitrate") && refusal.contains("us-sum"), "{refusal}");
}

#[test]
fn a_users_limit_is_checked() {
    let make = |id: &str, name: &str, value: f64, document: &str| {
        NamedLimit::new(id, name, value, mg_per_l(Species::nitrate()), document, "")
    };
    assert!(make("county-nitrate", "county alert", 25.0, "county order").is_ok());
    for id in ["", "County", "a b", "ä", &"x".repeat(65)] {
        assert!(matches!(make(id, "n", 25.0, "d"), Err(AssureError::IdUnusable { .. })), "{id}");
    }
    for id in ["who-nitrate", "who-sum"] {
        assert!(matches!(make(id, "n", 25.0, "d"), Err(AssureError::IdTaken { .. })), "{id}");
    }
    for value in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert!(matches!(make("own", "n", value, "d"), Err(AssureError::LimitNotPositive { .. })), "{value}");
    }
    assert!(matches!(make("own", " ", 25.0, "d"), Err(AssureError::LimitTextMissing { field: "name", .. })));
    assert!(matches!(
        make("own", "n", 25.0, ""),
        Err(AssureError::LimitTextMissing { field: "document", .. })
    ));
}
