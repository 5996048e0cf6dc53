//! The walk through time: `simulate()` takes a cell and a technique to the scan that physics would give.

use stillwell_scan::Technique;

use crate::cell::{Cell, Medium};
use crate::diffusion::{Extent, Space};
use crate::error::TwinError;
use crate::interface::{Answer, Drive, Interface, Unsettled};
use crate::kinetics::{Kinetics, MAX_EDGE_DENSITY_A_PER_M2, Supply};
use crate::modes::Modes;
use crate::program::{Program, Recording, Stretch};
use crate::stages::{STAGE_SHARE, STAGES, Stage};
use crate::temperature::{arrhenius_factor, thermal_voltage_v};
use crate::time_steps::Steps;
use crate::trace::{AnalogTrace, Trace, Window};
use crate::transport::Transport;
use crate::validity::{check_cell, check_course, check_potentials, check_resolution};

/// Time steps times grid nodes that one scan may cost: some minutes.
const MAX_WORK: usize = 20_000_000_000;

/// How many diffusion layers √(D t) the solution reaches out.
const LAYERS: f64 = 6.0;

/// The finest reaction layer, as a share of the diffusion layer of the shortest pulse.
const FINEST_LAYER: f64 = 1e-4;

/// The scan that a cell gives under a technique.
///
/// Concentrations start at their bulk values, and the double layer at the first potential. Deposition (of stripping
/// techniques) and rest (`quiet_s`) come before the scan.
///
/// # Units
/// SI: V, A, s, m, mol/m³. Reduction currents are negative.
///
/// # Errors
/// Whatever the cell, technique or recording has out of range, named with the range; a circuit that does not settle.
///
/// # Source
/// Fick's second law with Butler–Volmer kinetics at the surface: Bard & Faulkner, Electrochemical Methods, 2nd ed. 2001,
/// 4.4 and 3.3. The numbers are held against published ones in the room's tests (`checks/voltammetry.toml`).
///
/// # Example
///
/// ```
/// use stillwell_scan::{Technique, TechniqueKind};
/// use stillwell_twin::{Cell, Couple, Geometry, Recording, Species, simulate};
/// let mut cell = Cell::new(Geometry::Disc { radius_m: 1.5e-3 });
/// let oxidised = cell.add(Species::dissolved("oxidised", 1.0, 7.6e-10));
/// let reduced = cell.add(Species::dissolved("reduced", 0.0, 7.6e-10));
/// cell.couples.push(Couple::new(oxidised, reduced, 0.0, 1.0));
/// let mut technique = Technique::new(TechniqueKind::SquareWave, 0.3, -0.3);
/// technique.step_v = Some(0.01);
/// technique.amplitude_v = Some(0.05);
/// technique.frequency_hz = Some(25.0);
/// let trace = simulate(&cell, &technique, &Recording::default())?;
/// let peak_a = trace.current_a.iter().fold(0.0_f64, |lowest, current| lowest.min(*current));
/// assert!((peak_a + 69.6e-6).abs() < 0.3e-6); // −n F A √D c ΔΨp / √(π tp), ΔΨp = 0.928
/// # Ok::<(), stillwell_twin::TwinError>(())
/// ```
pub fn simulate(cell: &Cell, technique: &Technique, recording: &Recording) -> Result<Trace, TwinError> {
    let order = check_cell(cell)?;
    check_potentials(technique)?;
    check_resolution(&recording.resolution)?;
    let n_most = cell.couples.iter().map(|couple| couple.n_electrons).max().unwrap_or(1);
    let per_volt = f64::from(n_most) / thermal_voltage_v(cell.temperature_k);
    let program = Program::new(technique, recording, per_volt)?;
    check_course(&program, recording.sampling_window_s, cell.reference.drift_v_per_s)?;
    let space = space(cell, order, &program, recording)?;
    let kinetics = Kinetics::new(cell);
    let analog = match Modes::of(&space, &kinetics) {
        Some(modes) => walk_through(cell, &program, recording, &modes, &kinetics)?,
        None => walk_through(cell, &program, recording, &space, &kinetics)?,
    };
    Ok(Trace::assemble(technique, program.potential_v, analog, AnalogTrace::mean_in))
}

pub(crate) fn space(
    cell: &Cell,
    order: Vec<usize>,
    program: &Program,
    recording: &Recording,
) -> Result<Space, TwinError> {
    Ok(Space::new(cell, order, extent(cell, program, recording)?))
}

pub(crate) fn walk_through<T: Transport>(
    cell: &Cell,
    program: &Program,
    recording: &Recording,
    solution: &T,
    kinetics: &Kinetics,
) -> Result<AnalogTrace, TwinError> {
    let schedule = Schedule::new(program, recording, solution, kinetics)?;
    Walk::new(cell, program, solution, kinetics, &schedule).through()
}

/// First step and reach of the grid of the solution.
fn extent(cell: &Cell, program: &Program, recording: &Recording) -> Result<Extent, TwinError> {
    let resolution = recording.resolution;
    let diffusion = |index: usize| {
        let species = &cell.species[index];
        species.diffusion_m2_per_s
            * arrhenius_factor(species.diffusion_activation_j_per_mol, cell.temperature_k)
    };
    let is_dissolved = |index: &usize| cell.species[*index].medium == Medium::Solution;
    let dissolved = || (0..cell.species.len()).filter(is_dissolved).map(diffusion);
    let slowest = dissolved().fold(f64::INFINITY, f64::min);
    let fastest = dissolved().fold(0.0, f64::max);
    if fastest <= 0.0 {
        return Ok(Extent { first_m: 1e-6, growth: resolution.growth, length_m: 1e-5 });
    }
    let layer_m = libm::sqrt(slowest * program.shortest_s);
    let mut first_m = layer_m / resolution.nodes_per_layer;
    for (index, reaction) in cell.reactions.iter().enumerate() {
        let rate_per_s =
            reaction.rate_per_s * arrhenius_factor(reaction.activation_j_per_mol, cell.temperature_k);
        let d = diffusion(reaction.from);
        let reaction_layer_m = libm::sqrt(d / rate_per_s);
        let finest_m = FINEST_LAYER * layer_m;
        if reaction_layer_m < finest_m {
            let at_most_per_s = d / (finest_m * finest_m);
            return Err(TwinError::StepsTooCoarse {
                reaction: index,
                rate_per_s,
                layer_m: reaction_layer_m,
                at_most_per_s,
            });
        }
        first_m = first_m.min(reaction_layer_m / resolution.nodes_per_layer);
    }
    if let Some(radius_m) = cell.geometry.curvature_radius_m() {
        first_m = first_m.min(radius_m / resolution.nodes_per_layer);
    }
    let reach_m = LAYERS * libm::sqrt(fastest * program.duration_s());
    let length_m = reach_m.max(10.0 * first_m).max(cell.stirred_layer_m.unwrap_or(0.0));
    Ok(Extent { first_m, growth: resolution.growth, length_m })
}

/// Time steps of every stretch; stretches alike share them, and steps of one length share their matrix.
struct Schedule<M> {
    matrices: Vec<M>,
    courses: Vec<Course>,
    /// Which course each stretch of deposition, rest and scan takes.
    course_of: Vec<usize>,
}

struct Course {
    /// Length and matrix of each step.
    steps: Vec<(f64, usize)>,
    n_before_window: usize,
    has_window: bool,
}

impl<M> Schedule<M> {
    fn new<T: Transport<Matrix = M>>(
        program: &Program,
        recording: &Recording,
        solution: &T,
        kinetics: &Kinetics,
    ) -> Result<Self, TwinError> {
        let mut schedule = Self { matrices: Vec::new(), courses: Vec::new(), course_of: Vec::new() };
        let mut kinds: Vec<Stretch> = Vec::new();
        let mut lengths: Vec<(u64, bool)> = Vec::new();
        let mut n_steps = 0_usize;
        for stretch in program.before.iter().chain(&program.scan) {
            let found = kinds.iter().position(|kind| is_alike(kind, stretch));
            let course = found.unwrap_or(kinds.len());
            if found.is_none() {
                kinds.push(*stretch);
                let steps =
                    Steps::new(stretch, recording.sampling_window_s, recording.resolution.steps_per_pulse);
                let made = schedule.course(&steps, stretch.is_stirred, &mut lengths, solution, kinetics);
                schedule.courses.push(made);
            }
            schedule.course_of.push(course);
            n_steps = n_steps.saturating_add(schedule.courses[course].steps.len());
        }
        let n_nodes = solution.n_nodes();
        if n_steps.saturating_mul(n_nodes) > MAX_WORK {
            return Err(TwinError::TooLarge { n_steps, n_nodes, at_most: MAX_WORK });
        }
        Ok(schedule)
    }

    fn course<T: Transport<Matrix = M>>(
        &mut self,
        steps: &Steps,
        is_stirred: bool,
        lengths: &mut Vec<(u64, bool)>,
        solution: &T,
        kinetics: &Kinetics,
    ) -> Course {
        let mut made = Vec::with_capacity(steps.lengths_s.len());
        for &length_s in &steps.lengths_s {
            let key = (length_s.to_bits(), is_stirred);
            let matrix = lengths.iter().position(|known| *known == key).unwrap_or_else(|| {
                lengths.push(key);
                self.matrices.push(solution.matrix(kinetics, STAGE_SHARE * length_s, is_stirred));
                self.matrices.len() - 1
            });
            made.push((length_s, matrix));
        }
        let has_window = steps.n_before_window < made.len();
        Course { steps: made, n_before_window: steps.n_before_window, has_window }
    }
}

/// Whether two stretches are divided alike. Durations that differ in rounding only count as the same.
fn is_alike(a: &Stretch, b: &Stretch) -> bool {
    let is_same_length = (a.duration_s - b.duration_s).abs() <= 1e-9 * a.duration_s;
    is_same_length
        && a.pace == b.pace
        && a.is_stirred == b.is_stirred
        && a.reading.is_some() == b.reading.is_some()
}

/// State of the walk.
struct Walk<'a, T: Transport> {
    cell: &'a Cell,
    program: &'a Program,
    solution: &'a T,
    kinetics: &'a Kinetics,
    schedule: &'a Schedule<T::Matrix>,
    interface: Interface,
    state: T::State,
    /// Potential across the double layer, V.
    interface_v: f64,
    current_a: f64,
    time_s: f64,
    shift_v: f64,
}

impl<'a, T: Transport> Walk<'a, T> {
    fn new(
        cell: &'a Cell,
        program: &'a Program,
        solution: &'a T,
        kinetics: &'a Kinetics,
        schedule: &'a Schedule<T::Matrix>,
    ) -> Self {
        let shift_v = cell.reference.shift_v(cell.temperature_k);
        let first_v = program.before.iter().chain(&program.scan).next().map_or(0.0, |stretch| stretch.from_v);
        let before_s: f64 = program.before.iter().map(|stretch| stretch.duration_s).sum();
        Self {
            cell,
            program,
            solution,
            kinetics,
            schedule,
            interface: Interface::new(cell, kinetics, first_v + shift_v),
            state: solution.state(),
            interface_v: first_v + shift_v,
            current_a: 0.0,
            time_s: -before_s,
            shift_v,
        }
    }

    fn through(mut self) -> Result<AnalogTrace, TwinError> {
        let program = self.program;
        let n_before = program.before.len();
        let courses: Vec<&Course> =
            self.schedule.course_of.iter().map(|&course| &self.schedule.courses[course]).collect();
        for (stretch, course) in program.before.iter().zip(&courses) {
            self.stretch(stretch, course, None)?;
        }
        self.time_s = 0.0;
        let n_steps: usize = courses.iter().skip(n_before).map(|course| course.steps.len()).sum();
        let first_v = program.scan.first().map_or(0.0, |stretch| stretch.from_v);
        let mut analog = AnalogTrace::with_capacity(n_steps + 1, program.scan.len() + 1);
        analog.push(0.0, self.current_a, first_v);
        if program.reads_start {
            analog.windows.push(Window {
                point: 0,
                reading: crate::trace::Reading::Forward,
                first: 0,
                last: 0,
            });
        }
        for (stretch, course) in program.scan.iter().zip(courses.iter().skip(n_before)) {
            let start = analog.time_s.len() - 1;
            self.stretch(stretch, course, Some(&mut analog))?;
            if let Some((point, reading)) = stretch.reading {
                let last = analog.time_s.len() - 1;
                let first = if course.has_window { start + course.n_before_window } else { last };
                analog.windows.push(Window { point, reading, first, last });
            }
        }
        Ok(analog)
    }

    fn stretch(
        &mut self,
        stretch: &Stretch,
        course: &Course,
        mut analog: Option<&mut AnalogTrace>,
    ) -> Result<(), TwinError> {
        let rate_v_per_s = (stretch.to_v - stretch.from_v) / stretch.duration_s;
        let mut since_s = 0.0;
        let start_s = self.time_s;
        for &(length_s, matrix) in &course.steps {
            let matrix = &self.schedule.matrices[matrix];
            let programmed_v = stretch.from_v + rate_v_per_s * since_s;
            self.step(programmed_v, rate_v_per_s, length_s, matrix)?;
            since_s += length_s;
            self.time_s = start_s + since_s;
            if let Some(analog) = analog.as_deref_mut() {
                analog.push(self.time_s, self.current_a, stretch.from_v + rate_v_per_s * since_s);
            }
        }
        self.check_edge()
    }

    /// One time step, in its stages.
    fn step(
        &mut self,
        programmed_v: f64,
        rate_v_per_s: f64,
        length_s: f64,
        matrix: &T::Matrix,
    ) -> Result<(), TwinError> {
        let drift = self.cell.reference.drift_v_per_s;
        let applied_v = programmed_v + self.shift_v + drift * self.time_s.max(0.0);
        let rate_v_per_s = rate_v_per_s + if self.time_s >= 0.0 { drift } else { 0.0 };
        if let Some(rates) = self.interface.standing(self.kinetics, applied_v, rate_v_per_s)
            && let Some(fluxes) = self.solution.leap(rates, matrix, &mut self.state)
        {
            self.interface_v = applied_v;
            self.current_a = self.kinetics.current_a(rates, &fluxes);
            return Ok(());
        }
        let stage_s = STAGE_SHARE * length_s;
        let start_v = self.interface_v;
        let mut passed_v = [start_v; 3];
        for stage in STAGES {
            let from_v = stage.departure(start_v, passed_v[0], passed_v[1]);
            let applied_v = applied_v + rate_v_per_s * stage.moment * length_s;
            let answer = self.stage(stage, matrix, Drive { applied_v, rate_v_per_s, from_v, stage_s })?;
            passed_v[stage.index] = answer.interface_v;
            self.interface_v = answer.interface_v;
            self.current_a = answer.current_a;
        }
        Ok(())
    }

    fn stage(&mut self, stage: Stage, matrix: &T::Matrix, drive: Drive) -> Result<Answer, TwinError> {
        let level = self.solution.prepare(matrix, stage, &mut self.state);
        let supply = Supply { level, response: T::response(matrix) };
        let settled = self.interface.settle(self.kinetics, supply, drive);
        let (time_s, applied_v) = (self.time_s, drive.applied_v);
        let answer = settled.map_err(|unsettled| match unsettled {
            Unsettled::Fluxes => TwinError::FluxesUndetermined { time_s, applied_v },
            Unsettled::Potential { mismatch_v } => TwinError::NotConverged { time_s, applied_v, mismatch_v },
        })?;
        self.solution.finish(self.kinetics, matrix, stage, &self.interface.fluxes, &mut self.state);
        Ok(answer)
    }

    fn check_edge(&self) -> Result<(), TwinError> {
        let density_a_per_m2 = self.kinetics.edge_density_a_per_m2(self.interface_v);
        if density_a_per_m2 <= MAX_EDGE_DENSITY_A_PER_M2 {
            return Ok(());
        }
        Err(TwinError::BeyondEdge {
            time_s: self.time_s,
            potential_v: self.interface_v,
            density_a_per_m2,
            at_most_a_per_m2: MAX_EDGE_DENSITY_A_PER_M2,
        })
    }
}

impl AnalogTrace {
    fn with_capacity(n_steps: usize, n_windows: usize) -> Self {
        Self {
            time_s: Vec::with_capacity(n_steps),
            current_a: Vec::with_capacity(n_steps),
            potential_v: Vec::with_capacity(n_steps),
            windows: Vec::with_capacity(n_windows),
        }
    }

    fn push(&mut self, time_s: f64, current_a: f64, potential_v: f64) {
        self.time_s.push(time_s);
        self.current_a.push(current_a);
        self.potential_v.push(potential_v);
    }
}
