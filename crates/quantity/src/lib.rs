//! Units, species, molar masses, concentrations and rounding to uncertainty.
