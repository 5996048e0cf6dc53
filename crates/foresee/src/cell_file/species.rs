//! `[[species]]`: what diffuses, and which of it is the analyte.

use stillwell_method::toml_file::{Reader, Section, nearest};
use stillwell_twin::{Cell, Geometry, Medium, Species};

use super::tried::tried_in;
use crate::judged::Key;

/// All species, those with faults among them, so that the others keep their numbers.
pub(super) struct SpeciesList {
    names: Vec<String>,
    pub(super) species: Vec<Option<Species>>,
    pub(super) analyte: Option<usize>,
}

impl SpeciesList {
    pub(super) fn read(reader: &mut Reader<'_>, root: &mut Section<'_>) -> Self {
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
    pub(super) fn named(
        &self,
        reader: &mut Reader<'_>,
        section: &mut Section<'_>,
        key: &'static str,
    ) -> Option<usize> {
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

    /// The same where a species must be named.
    pub(super) fn required(
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
