//! House rules live in `house/`; this library is where shared test access to checks and peers lives.
