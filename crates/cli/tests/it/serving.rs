//! `serve`: the printed address leads in, other computers are never served, Ctrl-C ends it.

use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};

use crate::command::{assert_bad_input, stillwell_in};

/// Ends the server however a test ends.
struct Server(Child);

impl Drop for Server {
    fn drop(&mut self) {
        // A server that ended already is what was wanted.
        self.0.kill().ok();
        self.0.wait().ok();
    }
}

fn served(folder: &Path) -> (Server, String) {
    let child = Command::new(env!("CARGO_BIN_EXE_stillwell"))
        .args(["serve", "tour/wells.study"])
        .current_dir(folder)
        .stdout(Stdio::piped())
        .spawn()
        .expect("the server starts");
    let mut server = Server(child);
    let lines = BufReader::new(server.0.stdout.take().expect("its output")).lines();
    let address =
        lines.map_while(Result::ok).find_map(|line| line.trim().strip_prefix("http://").map(str::to_owned));
    (server, address.expect("an address is printed"))
}

fn asked(host: &str, way: &str, more: &str) -> String {
    let mut stream = TcpStream::connect(host).expect("the server listens");
    write!(stream, "GET {way} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n{more}\r\n")
        .expect("a request");
    let mut answer = String::new();
    stream.read_to_string(&mut answer).expect("an answer");
    answer
}

#[test]
fn the_printed_address_leads_in_and_ctrl_c_ends_it() {
    let place = tempfile::tempdir().expect("a temporary folder");
    assert_eq!(stillwell_in(place.path(), &["tour"]).code, Some(0));
    let (mut server, address) = served(place.path());
    let (host, way) = address.split_at(address.find('/').expect("a path"));
    assert!(host.starts_with("127.0.0.1:"), "{host}");

    assert!(asked(host, "/", "").starts_with("HTTP/1.1 401"), "a stranger is let in");
    let entered = asked(host, way, "");
    assert!(entered.starts_with("HTTP/1.1 303"), "{entered}");
    let cookie = entered.lines().find_map(|line| line.strip_prefix("set-cookie: ")).expect("a cookie");
    let cookie = format!("Cookie: {}\r\n", cookie.split(';').next().expect("its value"));
    let page = asked(host, "/", &cookie);
    assert!(page.starts_with("HTTP/1.1 200") && page.contains("May these numbers be trusted?"), "{page}");
    assert!(
        asked("localhost:0".replace('0', host.rsplit(':').next().expect("a port")).as_str(), "/", &cookie)
            .starts_with("HTTP/1.1 200")
    );

    let id = server.0.id().to_string();
    assert!(Command::new("kill").args(["-INT", &id]).status().expect("kill").success());
    assert_eq!(server.0.wait().expect("it ends").code(), Some(0));
}

#[test]
fn other_computers_and_other_files_are_not_served() {
    let place = tempfile::tempdir().expect("a temporary folder");
    std::fs::write(place.path().join("no.study"), "nothing").expect("a file");
    let run = |arguments: &[&str]| stillwell_in(place.path(), arguments);
    assert_bad_input(
        &run(&["serve", "no.study", "--address", "0.0.0.0:0"]),
        &["can be reached from other computers", "cure:"],
    );
    assert_bad_input(
        &run(&["serve", "no.study", "--address", "[::]:0"]),
        &["can be reached from other computers"],
    );
    assert_bad_input(&run(&["serve", "no.study"]), &["is not a study"]);
    assert_bad_input(&run(&["serve", "gone.study"]), &["there is no such file"]);
    assert_bad_input(&run(&["serve", "no.study", "--address", "nowhere"]), &["--address"]);
}
