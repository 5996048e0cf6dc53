//! The worst case of the stack, from the call graphs that a compiler writes (`-fcallgraph-info=su`).

use std::collections::BTreeMap;

use thiserror::Error;

/// What a function of the compiler's own arithmetic may take, bytes: its frames are in no graph. The largest that was seen in
/// disassembled routines of 64-bit arithmetic is below it.
pub const RUNTIME_STACK_BYTES: u32 = 64;

/// The compiler's own arithmetic bears such names.
const RUNTIME: &str = "__aeabi_";

/// The deepest way down from a function.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StackBound {
    /// Bytes of all frames on it.
    pub bytes: u32,
    /// The functions, outermost first.
    pub path: Vec<String>,
}

/// Why there is no bound.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum StackError {
    /// A circle of calls.
    #[error("{name} calls itself, directly or through others")]
    Recursive {
        /// The function.
        name: String,
    },
    /// A frame that depends on a number.
    #[error("the frame of {name} is not fixed")]
    NotFixed {
        /// The function.
        name: String,
    },
    /// A function that is in no graph.
    #[error("the frame of {name} is not known: it is in none of the graphs")]
    Unknown {
        /// The function.
        name: String,
    },
    /// A call through a pointer.
    #[error("{name} calls through a pointer")]
    Indirect {
        /// The function.
        name: String,
    },
}

/// Frames and calls of several sources.
#[derive(Debug, Clone, Default)]
pub struct CallGraph {
    /// Bytes; none where the frame is not fixed.
    frames: BTreeMap<String, Option<u32>>,
    calls: BTreeMap<String, Vec<String>>,
}

type Found = Result<(u32, Vec<String>), StackError>;

impl CallGraph {
    /// Reads the graphs, one text for each source.
    pub fn read<'t>(texts: impl IntoIterator<Item = &'t str>) -> Self {
        let mut graph = Self::default();
        for line in texts.into_iter().flat_map(str::lines) {
            if let Some(title) = quoted(line, "node: { title: ") {
                // `name\nfile:line:column\n24 bytes (static)\n…`; without the last part it is another source's function.
                let label = quoted(line, " label: ").unwrap_or_default();
                if let Some(frame) = label.split("\\n").find(|part| part.contains(" bytes (")) {
                    let bytes = frame.split_once(" bytes (static)").and_then(|(bytes, _)| bytes.parse().ok());
                    graph.frames.insert(title.to_owned(), bytes);
                }
            } else if let Some(from) = quoted(line, "edge: { sourcename: ")
                && let Some(to) = quoted(line, " targetname: ")
            {
                graph.calls.entry(from.to_owned()).or_default().push(to.to_owned());
            }
        }
        graph
    }

    /// The deepest way down from a function.
    ///
    /// # Errors
    /// [`StackError`]: a circle, a frame that is not fixed or not known, a call through a pointer.
    pub fn deepest(&self, from: &str) -> Result<StackBound, StackError> {
        let title = self.frames.keys().find(|name| short(name) == from);
        let title = title.ok_or_else(|| StackError::Unknown { name: from.to_owned() })?;
        let (bytes, path) = self.walk(title, &mut Vec::new(), &mut BTreeMap::new())?;
        Ok(StackBound { bytes, path })
    }

    fn walk<'g>(
        &'g self,
        name: &'g str,
        above: &mut Vec<&'g str>,
        known: &mut BTreeMap<&'g str, (u32, Vec<String>)>,
    ) -> Found {
        if let Some(found) = known.get(name) {
            return Ok(found.clone());
        }
        if above.contains(&name) {
            return Err(StackError::Recursive { name: short(name).to_owned() });
        }
        let own = self.frame(name, above.last().copied())?;
        above.push(name);
        let mut deepest = (0, Vec::new());
        for callee in self.calls.get(name).into_iter().flatten() {
            let below = self.walk(callee, above, known)?;
            if below.0 > deepest.0 {
                deepest = below;
            }
        }
        above.pop();
        let mut path = vec![short(name).to_owned()];
        path.extend(deepest.1);
        let found = (own + deepest.0, path);
        known.insert(name, found.clone());
        Ok(found)
    }

    fn frame(&self, name: &str, caller: Option<&str>) -> Result<u32, StackError> {
        match self.frames.get(name) {
            Some(Some(bytes)) => Ok(*bytes),
            Some(None) => Err(StackError::NotFixed { name: short(name).to_owned() }),
            None if name == "__indirect_call" => {
                Err(StackError::Indirect { name: short(caller.unwrap_or(name)).to_owned() })
            }
            None if name.starts_with(RUNTIME) => Ok(RUNTIME_STACK_BYTES),
            None => Err(StackError::Unknown { name: short(name).to_owned() }),
        }
    }
}

/// `kernel.c:finish_scan` is `finish_scan`.
fn short(title: &str) -> &str {
    title.rsplit(':').next().unwrap_or(title)
}

fn quoted<'t>(line: &'t str, lead: &str) -> Option<&'t str> {
    line.split_once(lead)?.1.strip_prefix('"')?.split('"').next()
}

#[cfg(test)]
mod tests {
    use super::*;

    const GRAPH: &str = r#"graph: { title: "a.c"
node: { title: "outer" label: "outer\na.c:9:5\n40 bytes (static)\n0 dynamic objects" }
node: { title: "a.c:middle" label: "middle\na.c:5:12\n16 bytes (static)\n0 dynamic objects" }
node: { title: "a.c:flat" label: "flat\na.c:2:12\n24 bytes (static)\n0 dynamic objects" }
node: { title: "__aeabi_dadd" label: "__aeabi_dadd\n<built-in>" shape : ellipse }
edge: { sourcename: "outer" targetname: "a.c:middle" label: "a.c:10:3" }
edge: { sourcename: "outer" targetname: "a.c:flat" label: "a.c:11:3" }
edge: { sourcename: "a.c:middle" targetname: "a.c:flat" label: "a.c:6:3" }
edge: { sourcename: "a.c:flat" targetname: "__aeabi_dadd" label: "a.c:3:3" }
}"#;

    #[test]
    fn frames_are_added_along_the_deepest_way() {
        let found = CallGraph::read([GRAPH]).deepest("outer").unwrap();
        assert_eq!(found.bytes, 40 + 16 + 24 + RUNTIME_STACK_BYTES);
        assert_eq!(found.path, ["outer", "middle", "flat", "__aeabi_dadd"]);
    }
}
