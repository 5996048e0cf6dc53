//! `[[couples]]`, `[[reactions]]` and `[[edges]]`: what reacts at the electrode and in the solution.

use stillwell_method::toml_file::{Reader, Section};
use stillwell_twin::{Couple, Edge, EdgeDirection, MAX_COUPLES, Reaction};

use super::species::SpeciesList;
use super::tried::tried_in;
use crate::judged::{Key, whole};

pub(super) fn couples(
    reader: &mut Reader<'_>,
    root: &mut Section<'_>,
    list: &SpeciesList,
) -> Vec<Option<Couple>> {
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

pub(super) fn reactions(
    reader: &mut Reader<'_>,
    root: &mut Section<'_>,
    list: &SpeciesList,
) -> Vec<Option<Reaction>> {
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

pub(super) fn edges(reader: &mut Reader<'_>, root: &mut Section<'_>) -> Vec<Option<Edge>> {
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
