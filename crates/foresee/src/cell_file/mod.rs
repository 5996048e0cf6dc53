//! CELL.toml: an electrode in its solution, as a person writes it. SI units, with a prefix where a size asks for one, and
//! the unit in every key; species are called by their names.

mod conditions;
mod couples;
mod electrode;
mod population;
mod species;
mod tried;

use stillwell_method::Problems;
use stillwell_method::toml_file::{Reader, Section};
use stillwell_twin::{Cell, TwinError, Variation};

use crate::model::CellModel;
use species::SpeciesList;

impl CellModel {
    /// Reads a cell file.
    ///
    /// # Errors
    /// Everything that is wrong, each with its place and what would be accepted; an unknown key, or a species that is
    /// not there, names the nearest known one.
    ///
    /// # Example
    ///
    /// ```
    /// let cell = stillwell_foresee::CellModel::parse("cell.toml", r#"
    ///     [electrode]
    ///     shape = "disc"
    ///     area_mm2 = 7.1
    ///
    ///     [[species]]
    ///     name = "nitrate"
    ///     analyte = true
    ///     diffusion_m2_per_s = 1.9e-9
    ///
    ///     [[species]]
    ///     name = "nitrite"
    ///     diffusion_m2_per_s = 1.9e-9
    ///
    ///     [[couples]]
    ///     oxidised = "nitrate"
    ///     reduced = "nitrite"
    ///     electrons = 2
    ///     formal_potential_v = 0.47
    ///     rate_constant_m_per_s = 1e-18
    /// "#)?;
    /// assert_eq!(cell.cell.species[cell.analyte].name, "nitrate");
    /// # Ok::<(), stillwell_method::Problems>(())
    /// ```
    pub fn parse(file_name: &str, source: &str) -> Result<Self, Problems> {
        Reader::read(file_name, source, read)
    }
}

fn read(reader: &mut Reader<'_>, root: &mut Section<'_>) -> Option<CellModel> {
    let electrode = electrode::electrode(reader, root);
    let solution = conditions::solution(reader, root);
    let reference = conditions::reference(reader, root);
    let surface = conditions::surface(reader, root);
    let list = SpeciesList::read(reader, root);
    let couples = couples::couples(reader, root, &list);
    let reactions = couples::reactions(reader, root, &list);
    let edges = couples::edges(reader, root);
    let population = population::population(reader, root);
    if reader.has_problems() {
        return None;
    }
    let electrode = electrode?;
    let stated = Cell {
        species: list.species.into_iter().collect::<Option<_>>()?,
        couples: couples.into_iter().collect::<Option<_>>()?,
        reactions: reactions.into_iter().collect::<Option<_>>()?,
        edges: edges.into_iter().collect::<Option<_>>()?,
        double_layer_f_per_m2: electrode.double_layer_f_per_m2,
        uncompensated_ohm: solution.uncompensated_ohm,
        temperature_k: solution.temperature_k,
        stirred_layer_m: solution.stirred_layer_m,
        reference,
        surface,
        ..Cell::new(electrode.geometry)
    };
    let cell = Variation { sensitivity: electrode.active_share, ..Variation::NONE }.applied_to(&stated);
    if let Err(error) = cell.check() {
        disagree(reader, root, &cell, &error);
        return None;
    }
    Some(CellModel { cell, analyte: list.analyte?, population })
}

/// Every number by itself is sound, but not together.
fn disagree(reader: &mut Reader<'_>, root: &mut Section<'_>, cell: &Cell, error: &TwinError) {
    let mut span_of =
        |reader: &mut Reader<'_>, key, index| root.entries(reader, key).get(index).and_then(Section::span);
    match *error {
        TwinError::ReactionBetweenMedia { reaction } => {
            let span = span_of(reader, "reactions", reaction);
            let found = "a reaction from a film to the solution or to another film";
            reader.complain(span, found, "both species must share a medium");
        }
        TwinError::ReactionCircle { species } => {
            let span = span_of(reader, "species", species);
            let name = cell.species.get(species).map_or("", |species| species.name.as_str());
            let found = format!("the reactions of {name} lead back to it");
            reader.complain(span, found, "first-order reactions must not form a circle");
        }
        _ => reader.complain(None, error.to_string(), "change the values that it depends on"),
    }
}
