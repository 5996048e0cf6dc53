//! One integration-test binary of this room.
