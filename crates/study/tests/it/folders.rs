//! Folders of many short scans with a run sheet, for tests that need numbers rather than meaning.

use std::fmt::Write as _;
use std::fs;
use std::path::Path;

/// A folder of `n_files` files of one scan of `n_points`, all samples, with its run sheet; `salt` makes the scans differ
/// from those of another folder.
pub(crate) fn folder_of_scans(folder: &Path, n_files: usize, n_points: usize, salt: usize) {
    fs::create_dir_all(folder).unwrap();
    let mut sheet = String::from("file,scan,role,sample,lot,electrode,channel,batch,date\n");
    for index in 0..n_files {
        let name = format!("scan-{index:06}.csv");
        fs::write(folder.join(&name), scan_text(n_points, salt * 1_000_003 + index)).unwrap();
        writeln!(sheet, "{name},1,sample,well-{index},L21,e{index},1,B{salt},2026-05-12").unwrap();
    }
    fs::write(folder.join("run-sheet.csv"), sheet).unwrap();
}

fn scan_text(n_points: usize, seed: usize) -> String {
    let mut text = String::from("potential / V,current / uA\n");
    // The ripple repeats after 1009 seeds; folders of another salt must hold other scans.
    let salted = 1e-6 * (seed / 1_000_003) as f64;
    for point in 0..n_points {
        let potential_v = -0.3 - 0.6 * point as f64 / (n_points.max(2) - 1) as f64;
        let ripple = ((point * 7919 + seed * 104_729) % 1009) as f64 / 1009.0;
        let current_ua =
            -5.0 - 3.0 * (-((potential_v + 0.6) / 0.05) * ((potential_v + 0.6) / 0.05)).max(-1.0);
        writeln!(text, "{potential_v:.4},{:.6}", current_ua - 0.05 * ripple + salted).unwrap();
    }
    text
}
