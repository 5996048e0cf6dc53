//! Changes by hand: what the file itself forbids, and what verification names when it was done all the same.

use std::path::Path;

use rusqlite::Connection;
use stillwell_study::{Study, StudyError, StudyRole, VerifyRequest, Word, verify};

use crate::people::person;
use crate::scenario::{alder_vale_study, analyst};

fn approved_study(folder: &Path) -> std::path::PathBuf {
    let path = folder.join("wells.study");
    let mut study = alder_vale_study(&path);
    let series = study.series().unwrap()[0].record.hash;
    study.determine(&series, &analyst()).unwrap();
    let approver = person(&mut study, folder, "Tomas Reed", StudyRole::Approver);
    let target = study.calibration("1").unwrap().record.hash;
    study.approve(&target, Word::Approved, &approver, "residuals without trend").unwrap();
    path
}

/// What a person with a database tool can do: take the triggers away, and write.
fn by_hand(path: &Path, sql: &str) {
    let connection = Connection::open(path).unwrap();
    let mut statement =
        connection.prepare("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'").unwrap();
    let triggers: Vec<(String, String)> =
        statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?))).unwrap().map(Result::unwrap).collect();
    drop(statement);
    for (name, _) in &triggers {
        connection.execute_batch(&format!("DROP TRIGGER {name}")).unwrap();
    }
    connection.execute_batch(sql).unwrap();
    for (_, sql) in &triggers {
        connection.execute_batch(sql).unwrap();
    }
}

#[test]
fn rows_can_be_neither_changed_nor_deleted_nor_replaced() {
    let folder = tempfile::tempdir().unwrap();
    let path = approved_study(folder.path());
    let connection = Connection::open(&path).unwrap();
    connection.pragma_update(None, "recursive_triggers", true).unwrap();
    for table in ["study", "record", "content", "reading", "scan"] {
        let column = if table == "study" { "chain" } else { "hash" };
        for sql in [
            format!("UPDATE {table} SET {column} = zeroblob(32)"),
            format!("DELETE FROM {table}"),
            format!("INSERT OR REPLACE INTO {table} SELECT * FROM {table}"),
        ] {
            let refused = connection.execute_batch(&sql).unwrap_err().to_string();
            assert!(refused.contains("a study only grows"), "{sql}: {refused}");
        }
    }
}

#[test]
fn whatever_is_changed_by_hand_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let path = approved_study(folder.path());
    let cases = [
        ("UPDATE record SET reason = 'another' WHERE seq = 4", Some(4), "was changed"),
        ("UPDATE record SET actor = 'Tomas Reed' WHERE seq = 1", Some(1), "was changed"),
        ("DELETE FROM record WHERE seq = 5", Some(6), "records are missing"),
        ("UPDATE record SET body = CAST(replace(CAST(body AS TEXT), '\"accepted\":true', '\"accepted\":false') AS BLOB)
          WHERE kind = 'calibration'", None, "was changed"),
        ("UPDATE content SET packed = zeroblob(length(packed)) WHERE rowid = 3", None, "a text that it names"),
        ("DELETE FROM scan WHERE ordinal = 1", None, "scans that it names"),
        ("UPDATE scan SET current_a = zeroblob(length(current_a)) WHERE rowid = 9", None, "scans that it names"),
        ("UPDATE reading SET understood = replace(understood, 'Comma', 'Tab')", None, "scans that it names"),
        ("DELETE FROM content WHERE rowid = 1", None, "which is missing"),
        ("INSERT INTO content SELECT zeroblob(32), n_bytes, packed, packed_hash FROM content LIMIT 1", None, "was changed"),
        ("CREATE VIEW other AS SELECT 1", None, "foreign view"),
        ("DROP INDEX record_by_kind", None, "not as this software made it"),
        ("UPDATE study SET chain = zeroblob(32)", None, "calls its own"),
    ];
    for (index, (sql, seq, words)) in cases.iter().enumerate() {
        let copy = folder.path().join(format!("{index}.study"));
        std::fs::copy(&path, &copy).unwrap();
        by_hand(&copy, sql);
        let found = verify(&copy, &VerifyRequest::default()).unwrap();
        let first = found.damages.first().unwrap_or_else(|| panic!("not found: {sql}"));
        assert!(found.damages.iter().any(|d| d.what.contains(words)), "{sql}: {:?}", found.damages);
        if let Some(seq) = seq {
            assert_eq!(first.record.as_ref().map(|record| record.seq), Some(*seq), "{sql}: {first:?}");
        }
    }
}

#[test]
fn a_missing_trigger_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let path = approved_study(folder.path());
    Connection::open(&path).unwrap().execute_batch("DROP TRIGGER record_is_never_changed").unwrap();
    let found = verify(&path, &VerifyRequest::default()).unwrap();
    assert!(found.damages[0].what.contains("trigger record_is_never_changed"), "{:?}", found.damages);
}

#[test]
fn only_an_anchor_shows_a_tail_that_was_cut_off() {
    let folder = tempfile::tempdir().unwrap();
    let path = approved_study(folder.path());
    let anchor = Study::open_to_read(&path).unwrap().anchor().unwrap();
    let with_anchor = VerifyRequest { anchor: Some(anchor.head), ..VerifyRequest::default() };
    let whole = verify(&path, &with_anchor).unwrap();
    assert!(whole.is_sound());
    assert_eq!(whole.anchored_at, Some(anchor.seq));
    by_hand(&path, "DELETE FROM record WHERE seq = (SELECT max(seq) FROM record)");
    assert!(verify(&path, &VerifyRequest::default()).unwrap().is_sound(), "the limit that limits.md states");
    let found = verify(&path, &with_anchor).unwrap();
    assert!(found.damages[0].what.contains("cut off or rewritten"), "{:?}", found.damages);
}

#[test]
fn an_approval_cannot_be_moved_or_forged_even_with_all_hashes_made_anew() {
    let folder = tempfile::tempdir().unwrap();
    let path = approved_study(folder.path());
    let before = Study::open_to_read(&path).unwrap();
    assert!(before.calibration("1").unwrap().standing.is_approved());
    let second = before.determinations().unwrap()[0].record.hash;
    let first = before.calibration("1").unwrap().record.hash;
    drop(before);
    // The approval's target is exchanged in body and subject; the last record has no successor, so only its own hash
    // would have to be made anew. The signature still covers the first target.
    by_hand(
        &path,
        &format!(
            "UPDATE record SET subject = '{second}', body = CAST(replace(CAST(body AS TEXT), '{first}', '{second}') AS BLOB)
             WHERE kind = 'approval'"
        ),
    );
    let study = Study::open_to_read(&path).unwrap();
    assert!(!study.calibration("1").unwrap().standing.is_approved());
    assert_eq!(study.determinations().unwrap()[0].standing.word(), "not approved");
    let found = verify(&path, &VerifyRequest::default()).unwrap();
    assert!(found.damages.iter().any(|d| d.what.contains("signature does not hold")), "{:?}", found.damages);
}

#[test]
fn other_files_and_newer_studies_are_refused_politely() {
    let folder = tempfile::tempdir().unwrap();
    let path = approved_study(folder.path());
    let newer = folder.path().join("newer.study");
    std::fs::copy(&path, &newer).unwrap();
    Connection::open(&newer).unwrap().pragma_update(None, "user_version", 99).unwrap();
    let bytes = std::fs::read(&newer).unwrap();
    let refused = Study::open_now(&newer).unwrap_err();
    assert!(matches!(refused, StudyError::Newer { found: 99, .. }), "{refused}");
    assert!(refused.to_string().contains("update this software; the file was not touched"));
    assert_eq!(std::fs::read(&newer).unwrap(), bytes, "the file was touched");
    let other = folder.path().join("other.db");
    Connection::open(&other).unwrap().execute_batch("CREATE TABLE a(b)").unwrap();
    std::fs::write(folder.path().join("empty"), "").unwrap();
    std::fs::write(folder.path().join("text"), "file,scan,role\n").unwrap();
    for name in ["other.db", "empty", "text", "."] {
        let refused = Study::open_now(&folder.path().join(name)).unwrap_err();
        assert!(matches!(refused, StudyError::NotAStudy { .. }), "{name}: {refused}");
    }
    assert!(matches!(Study::open_now(&folder.path().join("none")), Err(StudyError::NotThere { .. })));
}
