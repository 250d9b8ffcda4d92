//! Copies of the register, through the database's own backup, so that a copy made while others
//! write is whole.

use std::fs::File;
use std::path::Path;

use rusqlite::MAIN_DB;
use rusqlite::backup::Progress;

use super::Register;
use super::audit::AuditReport;
use super::error::RegisterError;
use super::kept::sync_folder;

pub(super) fn backup(register: &Register, to: &Path) -> Result<AuditReport, RegisterError> {
    if to.exists() {
        return Err(RegisterError::Exists { path: to.to_owned() });
    }
    let mut aside = to.as_os_str().to_owned();
    aside.push(".new");
    let aside = Path::new(&aside);
    // What an earlier attempt left behind is worth nothing.
    if aside.exists() {
        std::fs::remove_file(aside).map_err(RegisterError::io(aside))?;
    }
    let report = copy(register, aside);
    if report.is_err() {
        // The error is worth more than whether the half copy went away.
        let _ = std::fs::remove_file(aside);
    }
    let report = report?;
    File::open(aside).and_then(|file| file.sync_all()).map_err(RegisterError::io(aside))?;
    std::fs::rename(aside, to).map_err(RegisterError::io(to))?;
    sync_folder(to)?;
    Ok(report)
}

fn copy(register: &Register, aside: &Path) -> Result<AuditReport, RegisterError> {
    register.db.backup(MAIN_DB, aside, None::<fn(Progress)>)?;
    let copy = Register::open(aside, None)?;
    let report = copy.audit()?;
    match report.problems.first() {
        Some(problem) => Err(RegisterError::Backup(problem.to_string())),
        None => Ok(report),
    }
}
