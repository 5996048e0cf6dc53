//! One integration-test binary of this room.

mod copper_strip;
