//! CELL.toml: an electrode in its solution, as a person writes it. SI units, with a prefix where a size asks for one, and
//! the unit in every key; species are called by their names.

use stillwell_method::Problems;
use stillwell_method::toml_file::{Bounds, Reader, Section, nearest};
use stillwell_twin::{
    Cell, Couple, Edge, EdgeDirection, Geometry, MAX_COUPLES, Medium, Reaction, Reference, Species, Surface,
    TwinError, Variation, Wear,
};

use crate::judged::{Key, whole};
use crate::model::CellModel;
use crate::population_file::population;

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
    let electrode = electrode(reader, root);
    let solution = solution(reader, root);
    let reference = reference(reader, root);
    let surface = surface(reader, root);
    let list = SpeciesList::read(reader, root);
    let couples = couples(reader, root, &list);
    let reactions = reactions(reader, root, &list);
    let edges = edges(reader, root);
    let population = population(reader, root);
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

/// A cell in which nothing is wrong, to try one number in.
fn sound() -> Cell {
    let mut cell = Cell::new(Geometry::Plane { area_m2: 1e-6 });
    let oxidised = cell.add(Species::dissolved("oxidised", 0.0, 1e-9));
    let reduced = cell.add(Species::dissolved("reduced", 0.0, 1e-9));
    cell.couples.push(Couple::new(oxidised, reduced, 0.0, 1e-3));
    cell.reactions.push(Reaction { from: oxidised, to: None, rate_per_s: 1.0, activation_j_per_mol: 0.0 });
    let direction = EdgeDirection::Reduction;
    cell.edges.push(Edge { direction, potential_v: -1.0, density_a_per_m2: 1.0, decade_v: 0.1 });
    cell
}

/// What the twin says of a number in a sound cell.
fn tried(put: impl Fn(&mut Cell, f64)) -> impl Fn(f64) -> Result<(), TwinError> {
    move |value| {
        let mut cell = sound();
        put(&mut cell, value);
        cell.check()
    }
}

/// The same in the first of a cell's parts.
fn tried_in<T>(
    parts: fn(&mut Cell) -> &mut Vec<T>,
    put: impl Fn(&mut T, f64),
) -> impl Fn(f64) -> Result<(), TwinError> {
    tried(move |cell, value| parts(cell).first_mut().into_iter().for_each(|part| put(part, value)))
}

struct Electrode {
    geometry: Geometry,
    active_share: f64,
    double_layer_f_per_m2: f64,
}

#[derive(Clone, Copy)]
enum Shape {
    Plane,
    Disc,
    Sphere,
    Hemisphere,
}

impl Shape {
    const WORDS: [(&'static str, Self); 4] = [
        ("plane", Self::Plane),
        ("disc", Self::Disc),
        ("sphere", Self::Sphere),
        ("hemisphere", Self::Hemisphere),
    ];

    fn of_area(self, area_m2: f64) -> Geometry {
        use core::f64::consts::PI;
        let radius_m = |times_r2: f64| libm::sqrt(area_m2 / times_r2);
        match self {
            Self::Plane => Geometry::Plane { area_m2 },
            Self::Disc => Geometry::Disc { radius_m: radius_m(PI) },
            Self::Sphere => Geometry::Sphere { radius_m: radius_m(4.0 * PI) },
            Self::Hemisphere => Geometry::Hemisphere { radius_m: radius_m(2.0 * PI) },
        }
    }

    fn of_radius(self, radius_m: f64) -> Option<Geometry> {
        match self {
            Self::Plane => None,
            Self::Disc => Some(Geometry::Disc { radius_m }),
            Self::Sphere => Some(Geometry::Sphere { radius_m }),
            Self::Hemisphere => Some(Geometry::Hemisphere { radius_m }),
        }
    }
}

fn electrode(reader: &mut Reader<'_>, root: &mut Section<'_>) -> Option<Electrode> {
    let mut section = root.section(reader, "electrode");
    if section.raw("shape").is_none() {
        section.missing(reader, "shape", "\"disc\"");
    }
    let shape = section.choice(reader, "shape", &Shape::WORDS);
    let geometry = geometry(reader, &mut section, shape);
    let active_share = section.number(reader, "active_share", Bounds::FRACTION).unwrap_or(1.0);
    let double_layer_f_per_m2 = Key::same("double_layer_f_per_m2")
        .read(&mut section, reader, tried(|cell, value| cell.double_layer_f_per_m2 = value))
        .unwrap_or(0.0);
    section.finish(reader);
    Some(Electrode { geometry: geometry?, active_share, double_layer_f_per_m2 })
}

fn geometry(reader: &mut Reader<'_>, section: &mut Section<'_>, shape: Option<Shape>) -> Option<Geometry> {
    let of_area = move |area_m2| shape.unwrap_or(Shape::Plane).of_area(area_m2);
    let of_radius = move |radius_m| shape.unwrap_or(Shape::Disc).of_radius(radius_m);
    let (has_area, has_radius) = (section.raw("area_mm2").is_some(), section.raw("radius_um").is_some());
    // The root of a negative area is no number, and the twin refuses that too.
    let area_m2 = Key::mm2("area_mm2").read(section, reader, |area_m2| {
        tried(|cell, area_m2| cell.geometry = Geometry::Plane { area_m2 })(area_m2)?;
        tried(move |cell, area_m2| cell.geometry = of_area(area_m2))(area_m2)
    });
    let radius_m = Key::um("radius_um").read(
        section,
        reader,
        tried(|cell, radius_m| cell.geometry = Geometry::Disc { radius_m }),
    );
    match (has_area, has_radius) {
        (true, false) => area_m2.map(of_area),
        (false, true) => {
            let geometry = of_radius(radius_m?);
            if geometry.is_none() {
                reader.complain(section.span(), "a plane has no radius", "give area_mm2 in its place");
            }
            geometry
        }
        (true, true) => {
            reader.complain(section.span(), "area_mm2 and radius_um both state the size", "keep one of them");
            None
        }
        (false, false) => {
            section.missing(reader, "area_mm2", "7.1");
            None
        }
    }
}

struct Solution {
    temperature_k: f64,
    uncompensated_ohm: f64,
    stirred_layer_m: Option<f64>,
}

fn solution(reader: &mut Reader<'_>, root: &mut Section<'_>) -> Solution {
    let mut section = root.section(reader, "solution");
    let temperature_k = Key::celsius("temperature_c").read(
        &mut section,
        reader,
        tried(|cell, value| cell.temperature_k = value),
    );
    let uncompensated_ohm = Key::same("uncompensated_ohm").read(
        &mut section,
        reader,
        tried(|cell, value| cell.uncompensated_ohm = value),
    );
    let stirred_layer_m = Key::um("stirred_layer_um").read(
        &mut section,
        reader,
        tried(|cell, value| cell.stirred_layer_m = Some(value)),
    );
    section.finish(reader);
    Solution {
        temperature_k: temperature_k.unwrap_or(stillwell_twin::REFERENCE_TEMPERATURE_K),
        uncompensated_ohm: uncompensated_ohm.unwrap_or(0.0),
        stirred_layer_m,
    }
}

fn reference(reader: &mut Reader<'_>, root: &mut Section<'_>) -> Reference {
    let mut section = root.section(reader, "reference");
    let mut number = |name, put: fn(&mut Reference, f64)| {
        Key::same(name).read(&mut section, reader, tried(move |cell, value| put(&mut cell.reference, value)))
    };
    let offset_v = number("offset_v", |reference, value| reference.offset_v = value);
    let drift_v_per_s = number("drift_v_per_s", |reference, value| reference.drift_v_per_s = value);
    let chloride_ratio = number("chloride_ratio", |reference, value| reference.chloride_ratio = Some(value));
    section.finish(reader);
    Reference {
        offset_v: offset_v.unwrap_or(0.0),
        drift_v_per_s: drift_v_per_s.unwrap_or(0.0),
        chloride_ratio,
    }
}

fn surface(reader: &mut Reader<'_>, root: &mut Section<'_>) -> Surface {
    let mut section = root.section(reader, "surface");
    let scan_number = section.count(reader, "scan_number", 1, 1_000_000).unwrap_or(1);
    let area = wear(reader, &mut section, "area");
    let rate = wear(reader, &mut section, "rate");
    section.finish(reader);
    Surface { scan_number, area, rate }
}

fn wear(reader: &mut Reader<'_>, surface: &mut Section<'_>, name: &'static str) -> Wear {
    let mut section = surface.section(reader, name);
    let mut number = |name, put: fn(&mut Wear, f64)| {
        Key::same(name).read(
            &mut section,
            reader,
            tried(move |cell, value| put(&mut cell.surface.area, value)),
        )
    };
    let deficit = number("activation_deficit", |wear, value| wear.activation_deficit = value);
    let scans = number("activation_scans", |wear, value| wear.activation_scans = value);
    let loss = number("passivation_per_scan", |wear, value| wear.passivation_per_scan = value);
    section.finish(reader);
    Wear {
        activation_deficit: deficit.unwrap_or(Wear::NONE.activation_deficit),
        activation_scans: scans.unwrap_or(Wear::NONE.activation_scans),
        passivation_per_scan: loss.unwrap_or(Wear::NONE.passivation_per_scan),
    }
}

/// All species, those with faults among them, so that the others keep their numbers.
struct SpeciesList {
    names: Vec<String>,
    species: Vec<Option<Species>>,
    analyte: Option<usize>,
}

impl SpeciesList {
    fn read(reader: &mut Reader<'_>, root: &mut Section<'_>) -> Self {
        let mut list = Self { names: Vec::new(), species: Vec::new(), analyte: None };
        for section in &mut root.entries(reader, "species") {
            list.add(reader, section);
            section.finish(reader);
        }
        if list.analyte.is_none() {
            let found = "no species is the analyte";
            reader.complain(None, found, "add `analyte = true` to the [[species]] that is determined");
        }
        list
    }

    fn add(&mut self, reader: &mut Reader<'_>, section: &mut Section<'_>) {
        let name = section.required_text(reader, "name");
        if let (Some(name), Some(item)) = (&name, section.raw("name"))
            && self.names.contains(name)
        {
            section.wrong::<()>(reader, "name", item, "a name that no other species has");
        }
        let is_analyte = section.flag(reader, "analyte").unwrap_or(false);
        let species = one_species(reader, section, name.clone(), is_analyte);
        if let (true, Some(item)) = (is_analyte, section.raw("analyte")) {
            if self.analyte.is_some() {
                let found = "a second species is the analyte";
                reader.complain(item.span(), found, "keep `analyte = true` at one species only");
            }
            self.analyte = Some(self.species.len());
        }
        self.names.push(name.unwrap_or_default());
        self.species.push(species);
    }

    /// The number of the species that a key names.
    fn named(&self, reader: &mut Reader<'_>, section: &mut Section<'_>, key: &'static str) -> Option<usize> {
        let name = section.text(reader, key)?;
        let index = self.names.iter().position(|known| *known == name);
        if index.is_none() {
            let known: Vec<&str> = self.names.iter().map(String::as_str).collect();
            let hint = nearest(&name, &known).map(|hint| format!("; did you mean \"{hint}\"?"));
            let accepted =
                format!("a species of this file: {}{}", known.join(", "), hint.unwrap_or_default());
            let item = section.raw(key)?;
            section.wrong::<()>(reader, key, item, &accepted);
        }
        index
    }

    fn required(
        &self,
        reader: &mut Reader<'_>,
        section: &mut Section<'_>,
        key: &'static str,
    ) -> Option<usize> {
        if section.raw(key).is_none() {
            section.missing(reader, key, "the name of a species");
        }
        self.named(reader, section, key)
    }
}

fn one_species(
    reader: &mut Reader<'_>,
    section: &mut Section<'_>,
    name: Option<String>,
    is_analyte: bool,
) -> Option<Species> {
    let tried_species = |put: fn(&mut Species, f64)| tried_in(|cell| &mut cell.species, put);
    let diffusion = Key::same("diffusion_m2_per_s").require(
        section,
        reader,
        tried_species(|species, value| species.diffusion_m2_per_s = value),
    );
    let activation = Key::kj_per_mol("diffusion_activation_kj_per_mol").read(
        section,
        reader,
        tried_species(|species, value| species.diffusion_activation_j_per_mol = value),
    );
    let bulk = Key::same("concentration_mmol_per_l").read(
        section,
        reader,
        tried_species(|species, value| species.bulk_mol_per_m3 = value),
    );
    let film = Key::um("film_thickness_um").read(section, reader, |thickness_m| {
        let mut cell = Cell::new(Geometry::Plane { area_m2: 1e-6 });
        cell.add(Species { medium: Medium::Film { thickness_m }, ..Species::dissolved("film", 0.0, 1e-9) });
        cell.check()
    });
    for (key, cure) in [
        ("concentration_mmol_per_l", "delete it: the study states how much analyte each scan sees"),
        ("film_thickness_um", "delete it: the analyte is in the solution"),
    ] {
        if let (true, Some(item)) = (is_analyte, section.raw(key)) {
            reader.complain(item.span(), format!("`{key}` of the analyte"), cure);
        }
    }
    Some(Species {
        name: name?,
        medium: film.map_or(Medium::Solution, |thickness_m| Medium::Film { thickness_m }),
        bulk_mol_per_m3: bulk.unwrap_or(0.0),
        diffusion_m2_per_s: diffusion?,
        diffusion_activation_j_per_mol: activation.unwrap_or(0.0),
    })
}

fn couples(reader: &mut Reader<'_>, root: &mut Section<'_>, list: &SpeciesList) -> Vec<Option<Couple>> {
    let mut couples = Vec::new();
    for (index, section) in root.entries(reader, "couples").iter_mut().enumerate() {
        couples.push(couple(reader, section, list));
        section.finish(reader);
        if index == MAX_COUPLES {
            let found = format!("more than {MAX_COUPLES} couples");
            reader.complain(section.span(), found, format!("accepted: up to {MAX_COUPLES} at one surface"));
        }
    }
    couples
}

fn couple(reader: &mut Reader<'_>, section: &mut Section<'_>, list: &SpeciesList) -> Option<Couple> {
    let oxidised = list.required(reader, section, "oxidised");
    let reduced = list.required(reader, section, "reduced");
    differ(reader, section, "reduced", oxidised, reduced);
    let electrons = whole(section, reader, "electrons", |electrons| {
        tried_in(|cell| &mut cell.couples, |couple, _| couple.n_electrons = electrons)(0.0)
    });
    let tried_couple = |put: fn(&mut Couple, f64)| tried_in(|cell| &mut cell.couples, put);
    let formal_v = Key::same("formal_potential_v").require(
        section,
        reader,
        tried_couple(|couple, value| couple.formal_potential_v = value),
    );
    let rate = Key::same("rate_constant_m_per_s").require(
        section,
        reader,
        tried_couple(|couple, value| couple.rate_constant_m_per_s = value),
    );
    let activation = Key::kj_per_mol("rate_activation_kj_per_mol").read(
        section,
        reader,
        tried_couple(|couple, value| couple.rate_activation_j_per_mol = value),
    );
    let alpha = Key::same("alpha").read(section, reader, tried_couple(|couple, value| couple.alpha = value));
    let stated = Couple::new(oxidised?, reduced?, formal_v?, rate?);
    Some(Couple {
        n_electrons: electrons.unwrap_or(stated.n_electrons),
        rate_activation_j_per_mol: activation.unwrap_or(stated.rate_activation_j_per_mol),
        alpha: alpha.unwrap_or(stated.alpha),
        ..stated
    })
}

fn differ(
    reader: &mut Reader<'_>,
    section: &mut Section<'_>,
    key: &'static str,
    from: Option<usize>,
    to: Option<usize>,
) {
    if let (true, Some(item)) = (from.is_some() && from == to, section.raw(key)) {
        section.wrong::<()>(reader, key, item, "another species than the one it is made from");
    }
}

fn reactions(reader: &mut Reader<'_>, root: &mut Section<'_>, list: &SpeciesList) -> Vec<Option<Reaction>> {
    let mut reactions = Vec::new();
    for section in &mut root.entries(reader, "reactions") {
        reactions.push(reaction(reader, section, list));
        section.finish(reader);
    }
    reactions
}

fn reaction(reader: &mut Reader<'_>, section: &mut Section<'_>, list: &SpeciesList) -> Option<Reaction> {
    let from = list.required(reader, section, "from");
    let to = list.named(reader, section, "to");
    differ(reader, section, "to", from, to);
    let tried_reaction = |put: fn(&mut Reaction, f64)| tried_in(|cell| &mut cell.reactions, put);
    let rate_per_s = Key::same("rate_per_s").require(
        section,
        reader,
        tried_reaction(|reaction, value| reaction.rate_per_s = value),
    );
    let activation = Key::kj_per_mol("activation_kj_per_mol").read(
        section,
        reader,
        tried_reaction(|reaction, value| reaction.activation_j_per_mol = value),
    );
    Some(Reaction {
        from: from?,
        to,
        rate_per_s: rate_per_s?,
        activation_j_per_mol: activation.unwrap_or(0.0),
    })
}

fn edges(reader: &mut Reader<'_>, root: &mut Section<'_>) -> Vec<Option<Edge>> {
    let mut edges = Vec::new();
    for section in &mut root.entries(reader, "edges") {
        edges.push(edge(reader, section));
        section.finish(reader);
    }
    edges
}

fn edge(reader: &mut Reader<'_>, section: &mut Section<'_>) -> Option<Edge> {
    let directions = [("reduction", EdgeDirection::Reduction), ("oxidation", EdgeDirection::Oxidation)];
    if section.raw("direction").is_none() {
        section.missing(reader, "direction", "\"reduction\"");
    }
    let direction = section.choice(reader, "direction", &directions);
    let mut number = |name, put: fn(&mut Edge, f64)| {
        Key::same(name).require(section, reader, tried_in(|cell| &mut cell.edges, put))
    };
    let potential_v = number("potential_v", |edge, value| edge.potential_v = value);
    let density = number("density_a_per_m2", |edge, value| edge.density_a_per_m2 = value);
    let decade_v = number("decade_v", |edge, value| edge.decade_v = value);
    Some(Edge {
        direction: direction?,
        potential_v: potential_v?,
        density_a_per_m2: density?,
        decade_v: decade_v?,
    })
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
