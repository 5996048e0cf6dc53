//! Published atomic weights, molar masses and conversion factors.

use stillwell_quantity::{ATOMIC_WEIGHTS, Analyte, Concentration, Species, Unit, formula_molar_mass};
use toml_edit::{DocumentMut, Item, Table};

fn checks() -> DocumentMut {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../checks/molar_masses.toml");
    std::fs::read_to_string(path).unwrap().parse().unwrap()
}

fn rows<'a>(checks: &'a DocumentMut, kind: &str) -> impl Iterator<Item = &'a Table> {
    checks[kind].as_array_of_tables().unwrap().iter()
}

fn number(item: &Item) -> f64 {
    item.as_float().unwrap()
}

fn text<'a>(row: &'a Table, key: &str) -> &'a str {
    row[key].as_str().unwrap()
}

fn species(label: &str) -> Species {
    let ion = match label {
        "nitrate" => return Species::nitrate(),
        "nitrate as N" => return Species::nitrate_as_n(),
        "nitrite" => return Species::nitrite(),
        "nitrite as N" => return Species::nitrite_as_n(),
        "ammonium" | "ammonium as N" => Analyte::Ammonium,
        other => panic!("{other}"),
    };
    let form = if label.ends_with(" as N") {
        stillwell_quantity::ExpressedAs::Nitrogen
    } else {
        stillwell_quantity::ExpressedAs::Itself
    };
    Species::new(ion, form).unwrap()
}

/// Agreement with the full-precision value, and of the printed number with it.
fn compare(name: &str, found: f64, row: &Table) {
    let value = number(&row["value"]);
    println!("{name:32} found {found:<20} certified {value:<20}");
    assert!((found - value).abs() <= 1e-14 * value.abs(), "{name}: {found} against {value}");
    if let Some(printed) = row.get("printed") {
        let printed: f64 = printed.as_str().unwrap().parse().unwrap();
        assert!((found - printed).abs() <= number(&row["tol"]), "{name}: {found} against printed {printed}");
    }
}

#[test]
fn atomic_weights_are_the_published_ones() {
    let checks = checks();
    let mut count = 0;
    for row in rows(&checks, "atomic_weight") {
        let element = text(row, "element");
        let (_, found) = ATOMIC_WEIGHTS.iter().find(|(symbol, _)| *symbol == element).unwrap();
        assert_eq!(found.to_bits(), number(&row["value"]).to_bits(), "{element}");
        count += 1;
    }
    assert_eq!(count, ATOMIC_WEIGHTS.len());
}

#[test]
fn molar_masses_follow_from_the_formula() {
    let checks = checks();
    for row in rows(&checks, "molar_mass") {
        let formula = text(row, "formula");
        compare(formula, formula_molar_mass(formula).unwrap(), row);
    }
    // The species use the same weights as the formulas.
    for (species, formula) in
        [(Species::nitrate(), "NO3"), (Species::nitrite(), "NO2"), (Species::nitrate_as_n(), "N")]
    {
        let mass = species.molar_mass_g_per_mol().unwrap();
        assert!((mass - formula_molar_mass(formula).unwrap()).abs() < 1e-12);
    }
}

#[test]
fn conversions_reach_the_published_factors() {
    let checks = checks();
    for row in rows(&checks, "conversion") {
        let (from, to) = (&row["from"], &row["to"]);
        let unit = |side: &Item| {
            *Unit::ALL.iter().find(|unit| unit.symbol() == side["unit"].as_str().unwrap()).unwrap()
        };
        let kind = |side: &Item| species(side["species"].as_str().unwrap());
        let start = Concentration::new(number(&from["value"]), unit(from), kind(from)).unwrap();
        compare(text(row, "name"), start.to(unit(to), &kind(to)).unwrap().value(), row);
    }
}

#[test]
fn the_older_factor_is_not_ours() {
    let one = Concentration::new(1.0, Unit::MilligramPerLitre, Species::nitrate_as_n()).unwrap();
    let factor = one.to(Unit::MilligramPerLitre, &Species::nitrate()).unwrap().value();
    let older = number(&checks()["older_factor"]["value"]);
    assert!((factor - older).abs() > 1e-4 && (factor - older).abs() / factor < 5e-5, "{factor} {older}");
}

#[test]
fn stock_solutions_follow_from_molar_masses() {
    let checks = checks();
    for row in rows(&checks, "stock_solution") {
        let salt = formula_molar_mass(text(row, "salt")).unwrap();
        let ion = species(text(row, "species")).molar_mass_g_per_mol().unwrap();
        compare(text(row, "name"), number(&row["gram_per_l_of_species"]) / ion * salt, row);
    }
}
