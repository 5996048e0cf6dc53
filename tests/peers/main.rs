//! Our numbers against general-purpose Python libraries (`peers/oracle.py`) on seeded random cases.
//!
//! Each test prints how far the two were apart at worst. Unless a reason stands beside it, the limit is 1e-9 relative.

#[cfg(test)]
mod oracle;

#[cfg(test)]
mod additions;
#[cfg(test)]
mod calibrations;
#[cfg(test)]
mod distributions;
#[cfg(test)]
mod electrodes;
#[cfg(test)]
mod fits;
#[cfg(test)]
mod inverses;
#[cfg(test)]
mod nonlinear_fits;
#[cfg(test)]
mod peaks;
#[cfg(test)]
mod quality;
#[cfg(test)]
mod smoothing;
#[cfg(test)]
mod spread;
#[cfg(test)]
mod uncertainties;
