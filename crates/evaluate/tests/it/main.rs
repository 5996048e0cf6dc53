//! One test binary for the room.

#[cfg(test)]
mod asked_by_both;
#[cfg(test)]
mod frozen;
#[cfg(test)]
mod inverse;
#[cfg(test)]
mod pipeline;
#[cfg(test)]
mod properties;
#[cfg(test)]
mod published;
#[cfg(test)]
mod scans;
#[cfg(test)]
mod trust;
#[cfg(test)]
mod trust_point_by_point;
#[cfg(test)]
mod verdict;
