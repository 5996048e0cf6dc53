//! CELL.toml: every key arrives where it belongs, and typical mistakes are told in a way that can be acted on.

use proptest::prelude::*;
use stillwell_foresee::CellModel;
use stillwell_twin::{
    Cell, Couple, Edge, EdgeDirection, Geometry, Medium, Population, Reaction, Reference, Species, Spread,
    Surface, Wear,
};

const STRIP: &str = include_str!("../../../../examples/cells/copper-strip.toml");

/// Every key that there is.
const EVERY_KEY: &str = r#"
[electrode]
shape = "hemisphere"
radius_um = 250.0
active_share = 1.0
double_layer_f_per_m2 = 0.3

[solution]
temperature_c = 12.5
uncompensated_ohm = 42.0
stirred_layer_um = 30.0

[reference]
offset_v = 0.01
drift_v_per_s = 1e-5
chloride_ratio = 2.0

[surface]
scan_number = 3

[surface.area]
activation_deficit = 0.2
activation_scans = 2.0
passivation_per_scan = 0.01

[surface.rate]
activation_deficit = 0.1
activation_scans = 4.0
passivation_per_scan = 0.02

[[species]]
name = "lead ion"
analyte = true
diffusion_m2_per_s = 0.9e-9
diffusion_activation_kj_per_mol = 18.0

[[species]]
name = "lead"
film_thickness_um = 10.0
concentration_mmol_per_l = 0.5
diffusion_m2_per_s = 1.2e-9

[[species]]
name = "product"
film_thickness_um = 10.0
diffusion_m2_per_s = 1.2e-9

[[couples]]
oxidised = "lead ion"
reduced = "lead"
electrons = 2
formal_potential_v = -0.4
rate_constant_m_per_s = 1e-4
rate_activation_kj_per_mol = 30.0
alpha = 0.4

[[reactions]]
from = "lead"
to = "product"
rate_per_s = 0.5
activation_kj_per_mol = 50.0

[[reactions]]
from = "product"
rate_per_s = 0.1

[[edges]]
direction = "oxidation"
potential_v = 0.8
density_a_per_m2 = 0.2
decade_v = 0.1

[population.area]
lot_sd_percent = 1.0
electrode_sd_percent = 2.0
scan_sd_percent = 3.0

[population.rate_constant]
lot_sd_percent = 4.0
electrode_sd_percent = 5.0
scan_sd_percent = 6.0

[population.double_layer]
lot_sd_percent = 7.0
electrode_sd_percent = 8.0
scan_sd_percent = 9.0

[population.sensitivity]
lot_sd_percent = 10.0
electrode_sd_percent = 11.0
scan_sd_percent = 12.0

[population.reference]
lot_sd_v = 0.001
electrode_sd_v = 0.002
scan_sd_v = 0.003
drift_v_per_electrode = 0.0001
"#;

fn parsed(source: &str) -> CellModel {
    CellModel::parse("cell.toml", source).unwrap_or_else(|problems| panic!("{problems}"))
}

fn problems(source: &str) -> String {
    CellModel::parse("cell.toml", source).unwrap_err().to_string()
}

/// The strip with one text replaced, which must be there.
fn spoilt(was: &str, becomes: &str) -> String {
    assert!(STRIP.contains(was), "{was}");
    STRIP.replacen(was, becomes, 1)
}

fn species_of_every_key() -> Vec<Species> {
    let in_film = |name: &str, bulk| Species {
        medium: Medium::Film { thickness_m: 1e-5 },
        ..Species::dissolved(name, bulk, 1.2e-9)
    };
    vec![
        Species { diffusion_activation_j_per_mol: 18e3, ..Species::dissolved("lead ion", 0.0, 0.9e-9) },
        in_film("lead", 0.5),
        in_film("product", 0.0),
    ]
}

fn cell_of_every_key() -> Cell {
    Cell {
        geometry: Geometry::Hemisphere { radius_m: 250e-6 },
        species: species_of_every_key(),
        couples: vec![Couple {
            oxidised: 0,
            reduced: 1,
            n_electrons: 2,
            formal_potential_v: -0.4,
            rate_constant_m_per_s: 1e-4,
            rate_activation_j_per_mol: 30e3,
            alpha: 0.4,
        }],
        reactions: vec![
            Reaction { from: 1, to: Some(2), rate_per_s: 0.5, activation_j_per_mol: 50e3 },
            Reaction { from: 2, to: None, rate_per_s: 0.1, activation_j_per_mol: 0.0 },
        ],
        edges: vec![Edge {
            direction: EdgeDirection::Oxidation,
            potential_v: 0.8,
            density_a_per_m2: 0.2,
            decade_v: 0.1,
        }],
        double_layer_f_per_m2: 0.3,
        uncompensated_ohm: 42.0,
        temperature_k: 12.5 + 273.15,
        reference: Reference { offset_v: 0.01, drift_v_per_s: 1e-5, chloride_ratio: Some(2.0) },
        surface: Surface {
            scan_number: 3,
            area: Wear { activation_deficit: 0.2, activation_scans: 2.0, passivation_per_scan: 0.01 },
            rate: Wear { activation_deficit: 0.1, activation_scans: 4.0, passivation_per_scan: 0.02 },
        },
        stirred_layer_m: Some(30e-6),
    }
}

#[test]
fn every_key_arrives_where_it_belongs() {
    let spread = |lot_sd, electrode_sd, scan_sd| Spread { lot_sd, electrode_sd, scan_sd };
    let population = Population {
        area: spread(0.01, 0.02, 0.03),
        rate_constant: spread(0.04, 0.05, 0.06),
        double_layer: spread(0.07, 0.08, 0.09),
        sensitivity: spread(0.10, 0.11, 0.12),
        reference_v: spread(0.001, 0.002, 0.003),
        drift_v_per_electrode: 0.0001,
    };
    assert_eq!(parsed(EVERY_KEY), CellModel { cell: cell_of_every_key(), analyte: 0, population });
}

/// A key that is not in the file must leave something else than the key that is: otherwise the test above sees nothing.
#[test]
fn no_key_is_read_without_effect() {
    let whole = parsed(EVERY_KEY);
    let same =
        |line: &str| CellModel::parse("cell.toml", &EVERY_KEY.replacen(line, "\n", 1)) == Ok(whole.clone());
    let optional = EVERY_KEY.lines().filter(|line| line.contains('=') && !line.contains("active_share"));
    for line in optional {
        assert!(!same(&format!("\n{line}\n")), "{line} has no effect");
    }
    let half = parsed(&EVERY_KEY.replace("active_share = 1.0", "active_share = 0.5"));
    let (area, half_area) = (whole.cell.geometry.area_m2(), half.cell.geometry.area_m2());
    assert!((half_area / area - 0.5).abs() < 1e-12);
    assert_eq!(half.cell.double_layer_f_per_m2, 0.6); // of the smaller area: its capacitance stays
}

#[test]
fn shapes_have_the_area_that_is_stated() {
    for shape in ["plane", "disc", "sphere", "hemisphere"] {
        let cell = parsed(&spoilt("shape = \"disc\"", &format!("shape = \"{shape}\"")));
        let area_m2 = cell.cell.geometry.area_m2();
        assert!((area_m2 / (0.43 * 7.1e-6) - 1.0).abs() < 1e-12, "{shape}: {area_m2}");
    }
}

#[test]
fn the_analyte_takes_the_concentration_that_the_study_gives() {
    let strip = parsed(STRIP);
    assert_eq!(strip.cell.species[strip.analyte].bulk_mol_per_m3, 0.0);
    assert_eq!(strip.with_analyte(0.8).species[strip.analyte].bulk_mol_per_m3, 0.8);
}

#[test]
fn an_electrode_alone_says_what_else_is_needed() {
    insta::assert_snapshot!("empty", problems(""));
    insta::assert_snapshot!("not-toml", problems("[electrode\nshape = 1"));
}

#[test]
fn a_misspelt_key_names_the_nearest() {
    insta::assert_snapshot!("misspelt-key", problems(&spoilt("alpha = 0.75", "aplha = 0.75")));
}

#[test]
fn a_key_without_its_unit_names_the_one_with_it() {
    insta::assert_snapshot!("unit-missing", problems(&spoilt("area_mm2 = 7.1", "area = 7.1")));
}

#[test]
fn numbers_out_of_range_are_all_told_at_once_each_at_its_place() {
    let mut text = spoilt("area_mm2 = 7.1", "area_mm2 = -7.1");
    for (was, becomes) in [
        ("alpha = 0.75", "alpha = 1.2"),
        ("temperature_c = 21.0", "temperature_c = 210.0"),
        ("electrons = 2", "electrons = 2.5"),
        ("diffusion_activation_kj_per_mol = 32.0", "diffusion_activation_kj_per_mol = 3200.0"),
        ("lot_sd_percent = 4.0", "lot_sd_percent = 400.0"),
        ("decade_v = 0.12", "decade_v = 0"),
        ("active_share = 0.43", "active_share = 43"),
    ] {
        assert!(text.contains(was), "{was}");
        text = text.replacen(was, becomes, 1);
    }
    insta::assert_snapshot!("out-of-range", problems(&text));
}

#[test]
fn a_species_that_is_not_there_names_the_nearest() {
    insta::assert_snapshot!(
        "unknown-species",
        problems(&spoilt("oxidised = \"nitrate\"", "oxidised = \"nitrat\""))
    );
}

#[test]
fn exactly_one_species_is_the_analyte_and_it_is_dissolved() {
    let second = spoilt("name = \"nitrite\"", "name = \"nitrite\"\nanalyte = true");
    insta::assert_snapshot!("two-analytes", problems(&second));
    insta::assert_snapshot!("no-analyte", problems(&spoilt("analyte = true", "analyte = false")));
    let filled =
        spoilt("analyte = true", "analyte = true\nconcentration_mmol_per_l = 1\nfilm_thickness_um = 1");
    insta::assert_snapshot!("analyte-with-concentration", problems(&filled));
}

#[test]
fn what_does_not_fit_together_is_refused() {
    insta::assert_snapshot!(
        "size-twice",
        problems(&spoilt("area_mm2 = 7.1", "area_mm2 = 7.1\nradius_um = 1500"))
    );
    let plane = spoilt("shape = \"disc\"", "shape = \"plane\"").replace("area_mm2 = 7.1", "radius_um = 1500");
    insta::assert_snapshot!("plane-with-radius", problems(&plane));
    let same = spoilt("reduced = \"nitrite\"", "reduced = \"nitrate\"");
    insta::assert_snapshot!("couple-with-itself", problems(&same));
    let named_twice = spoilt("name = \"nitrite\"", "name = \"nitrate\"");
    insta::assert_snapshot!("name-twice", problems(&named_twice));
    let circle = |from: &str, to: &str| {
        format!("[[reactions]]\nfrom = \"{from}\"\nto = \"{to}\"\nrate_per_s = 1.0\n\n")
    };
    let text = circle("nitrate", "nitrite") + &circle("nitrite", "nitrate");
    insta::assert_snapshot!("reactions-in-a-circle", problems(&(text + STRIP)));
    let between = EVERY_KEY.replace("to = \"product\"", "to = \"lead ion\"");
    insta::assert_snapshot!("reaction-between-media", problems(&between));
    let worn = EVERY_KEY.replace("scan_number = 3", "scan_number = 1000000");
    insta::assert_snapshot!("worn-away", problems(&worn));
    let couple = &STRIP[STRIP.find("[[couples]]").unwrap()..STRIP.find("[[edges]]").unwrap()];
    insta::assert_snapshot!("too-many-couples", problems(&(STRIP.to_owned() + &couple.repeat(8))));
}

/// A line of a sound file, cut, doubled or with another value.
fn mangled() -> impl Strategy<Value = String> {
    let value = prop_oneof![
        Just("-1".to_owned()),
        Just("1e999".to_owned()),
        Just("nan".to_owned()),
        Just("{}".to_owned()),
        Just("[[1]]".to_owned()),
        Just("\"\"".to_owned()),
        Just("true".to_owned()),
        any::<i64>().prop_map(|whole| whole.to_string()),
        any::<f64>().prop_map(|number| format!("{number:?}")),
    ];
    (0..EVERY_KEY.lines().count(), value, 0..4_u8).prop_map(|(at, value, how)| {
        let lines = EVERY_KEY.lines().enumerate().map(|(index, line)| match (index == at, how) {
            (false, _) => line.to_owned(),
            (true, 0) => String::new(),
            (true, 1) => format!("{line}\n{line}"),
            (true, 2) => line.chars().take(line.len() / 2).collect(),
            (true, _) => format!("{} = {value}", line.split('=').next().unwrap_or_default()),
        });
        lines.collect::<Vec<_>>().join("\n")
    })
}

proptest! {
    #[test]
    fn no_chance_text_is_a_cell_or_a_panic(text in ".{0,400}") {
        prop_assert!(CellModel::parse("cell.toml", &text).is_err());
    }

    #[test]
    fn what_is_accepted_is_a_cell_that_the_twin_accepts(text in mangled()) {
        if let Ok(model) = CellModel::parse("cell.toml", &text) {
            prop_assert!(model.cell.check().is_ok());
            prop_assert!(model.population.draw(1, 2, 3, 4).is_ok());
        }
    }
}
