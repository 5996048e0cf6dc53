//! `[electrode]`: shape, size, the share that reacts, double layer.

use stillwell_method::toml_file::{Bounds, Reader, Section};
use stillwell_twin::Geometry;

use super::tried::tried;
use crate::judged::Key;

pub(super) struct Electrode {
    pub(super) geometry: Geometry,
    pub(super) active_share: f64,
    pub(super) double_layer_f_per_m2: f64,
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

pub(super) fn electrode(reader: &mut Reader<'_>, root: &mut Section<'_>) -> Option<Electrode> {
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
    let (has_area, has_radius) = (section.raw("area_mm2").is_some(), section.raw("radius_um").is_some());
    let area_m2 = Key::mm2("area_mm2").read(
        section,
        reader,
        tried(|cell, area_m2| cell.geometry = Geometry::Plane { area_m2 }),
    );
    let radius_m = Key::um("radius_um").read(
        section,
        reader,
        tried(|cell, radius_m| cell.geometry = Geometry::Disc { radius_m }),
    );
    match (has_area, has_radius) {
        (true, false) => shape.zip(area_m2).map(|(shape, area_m2)| shape.of_area(area_m2)),
        (false, true) => {
            if let Some(Shape::Plane) = shape {
                reader.complain(section.span(), "a plane has no radius", "give area_mm2 in its place");
            }
            shape.zip(radius_m).and_then(|(shape, radius_m)| shape.of_radius(radius_m))
        }
        (true, true) => {
            let found = "area_mm2 and radius_um both state the electrode's size";
            reader.complain(section.span(), found, "keep one of them");
            None
        }
        (false, false) => {
            section.missing(reader, "area_mm2", "7.1");
            None
        }
    }
}
