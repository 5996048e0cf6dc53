//! House rules: what reviewers would otherwise have to remember, one rule a file.
//!
//! Each rule is a function from text to findings, proven on planted violations, then run over the repository.

#[cfg(test)]
mod repository;
#[cfg(test)]
mod source;

#[cfg(test)]
mod advisories;
mod checks;
#[cfg(test)]
mod documentation;
#[cfg(test)]
mod doors;
#[cfg(test)]
mod edges;
#[cfg(test)]
mod functions;
#[cfg(test)]
mod introductions;
#[cfg(test)]
mod licences;
#[cfg(test)]
mod markdown;
#[cfg(test)]
mod names;
#[cfg(test)]
mod readme;
#[cfg(test)]
mod sizes;
#[cfg(test)]
mod wording;
