//! What is left when writing stops between any two steps, and when two write at once.
//!
//! A killed process is tested; a power cut is not, because nothing here can cut the power.

use std::process::Command;
use std::sync::Arc;
use std::sync::Mutex;

use brightproof::register::KeptHead;
use brightproof::register::Kind;
use brightproof::register::Register;
use brightproof::register::RegisterError;
use brightproof::register::Transaction;
use serde_json::json;

use super::shop::Folder;
use super::shop::NOW;
use super::shop::amend;
use super::shop::certificate;
use super::shop::check;
use super::shop::entry;
use super::shop::issue;
use super::shop::issue_one;
use super::shop::sign;
use super::shop::withdrawal;

const FOLDER: &str = "BRIGHTPROOF_TEST_CRASH_FOLDER";
const STEP: &str = "BRIGHTPROOF_TEST_CRASH_STEP";

/// One batch with every kind of write, on a register with one certificate.
fn batch(tx: &mut Transaction<'_>) -> Result<(), RegisterError> {
    tx.append(entry(Kind::Reissue, Some("LBF-2026-000001"), json!({"to": "Quillmark Instruments"})), None)?;
    let amended = amend(tx, "LBF-2026-000001", "S-1", "b", &[("L-1", 4, 9), ("L-2", 1, 1)])?;
    tx.append(withdrawal(&amended), None)?;
    issue(tx, "S-2", "c", &[("L-1", 9, 9)])?;
    Ok(())
}

/// The steps the batch takes, by name.
fn steps() -> Vec<String> {
    let folder = Folder::new();
    let mut register = folder.started();
    issue_one(&mut register, "S-1", &[("L-1", 5, 9)]);
    let seen = Arc::new(Mutex::new(Vec::new()));
    let noted = Arc::clone(&seen);
    register.set_fault(Some(Box::new(move |step| {
        noted.lock().unwrap().push(step.to_owned());
        Ok(())
    })));
    let mut tx = register.begin(NOW).unwrap();
    batch(&mut tx).unwrap();
    tx.commit(&sign).unwrap();
    drop(register);
    Arc::into_inner(seen).unwrap().into_inner().unwrap()
}

/// The register as found after an interruption: whole, with all of the batch or none of it.
fn left_whole(folder: &Folder, committed: bool, step: &str) {
    let register = folder.open();
    let audit = register.audit_with(&check).unwrap();
    assert!(audit.is_sound(), "stopped before {step:?}: {:?}", audit.problems);
    let expected = if committed { 6 } else { 2 };
    assert_eq!(audit.size, expected, "stopped before {step:?}");
    assert_eq!(register.certificate("LBF-2026-000003").unwrap().is_some(), committed, "{step:?}");
    assert_eq!(register.certified("L-1").unwrap(), if committed { 9 } else { 5 });
    assert!(matches!(register.kept_head().unwrap(), KeptHead::Agrees { .. }), "{step:?}");
    drop(register);
    // and it goes on: the batch if it was lost, else the next entry
    let mut register = folder.open();
    let mut tx = register.begin(NOW).unwrap();
    if committed {
        tx.append(entry(Kind::Reissue, Some("LBF-2026-000003"), json!({})), None).unwrap();
    } else {
        batch(&mut tx).unwrap();
    }
    let head = tx.commit(&sign).unwrap();
    assert_eq!(register.kept_head().unwrap(), KeptHead::Agrees { size: head.size });
    assert!(register.audit_with(&check).unwrap().is_sound());
}

#[test]
fn a_failure_between_any_two_writes_leaves_all_or_nothing() {
    let steps = steps();
    assert!(steps.len() > 20, "{steps:?}");
    let commit = steps.iter().position(|step| step == "COMMIT").unwrap();
    for (nth, step) in steps.iter().enumerate() {
        let folder = Folder::new();
        let mut register = folder.started();
        issue_one(&mut register, "S-1", &[("L-1", 5, 9)]);
        let count = Mutex::new(0);
        register.set_fault(Some(Box::new(move |_| {
            let mut count = count.lock().unwrap();
            *count += 1;
            if *count == nth + 1 { Err(format!("step {nth}")) } else { Ok(()) }
        })));
        let mut tx = register.begin(NOW).unwrap();
        let failed = match batch(&mut tx) {
            Ok(()) => tx.commit(&sign).map(|_| ()),
            Err(error) => {
                // a batch with half an entry in it can be neither added to nor committed
                assert!(matches!(batch(&mut tx), Err(RegisterError::Broken)));
                assert!(matches!(tx.commit(&sign), Err(RegisterError::Broken)));
                Err(error)
            }
        };
        match failed.unwrap_err() {
            RegisterError::Fault(_) => assert!(nth <= commit),
            RegisterError::HeadNotKept(_) => assert!(nth > commit),
            other => panic!("{other:?} before {step:?}"),
        }
        drop(register);
        left_whole(&folder, nth > commit, step);
    }
}

#[test]
fn a_process_killed_between_any_two_writes_leaves_all_or_nothing() {
    let steps = steps();
    let commit = steps.iter().position(|step| step == "COMMIT").unwrap();
    for (nth, step) in steps.iter().enumerate() {
        let folder = Folder::new();
        issue_one(&mut folder.started(), "S-1", &[("L-1", 5, 9)]);
        let child = Command::new(std::env::current_exe().unwrap())
            .args(["register::crash::killed_child", "--exact", "--ignored"])
            .env(FOLDER, folder.file(""))
            .env(STEP, nth.to_string())
            .output()
            .unwrap();
        assert!(killed(child.status), "the child was to die before {step:?}");
        left_whole(&folder, nth > commit, step);
    }
}

/// Whether a process ended itself without a word, not by a failed test.
fn killed(status: std::process::ExitStatus) -> bool {
    #[cfg(unix)]
    {
        use std::os::unix::process::ExitStatusExt;
        status.signal().is_some()
    }
    #[cfg(not(unix))]
    !status.success()
}

#[test]
fn a_process_killed_when_half_the_batch_is_in_the_file_already_is_undone() {
    let folder = Folder::new();
    issue_one(&mut folder.started(), "S-1", &[("L-1", 5, 9)]);
    let before = std::fs::metadata(folder.register()).unwrap().len();
    let child = Command::new(std::env::current_exe().unwrap())
        .args(["register::crash::killed_child", "--exact", "--ignored"])
        .env(FOLDER, folder.file(""))
        .env(STEP, "COMMIT")
        .output()
        .unwrap();
    assert!(killed(child.status));
    // more was written than the database holds back in memory: file and journal show it
    let during = std::fs::metadata(folder.register()).unwrap().len();
    assert!(during > before + 1_000_000, "{before} -> {during}");
    let journal = folder.file("register.sqlite-journal");
    assert!(std::fs::metadata(&journal).unwrap().len() > 0);
    left_whole(&folder, false, "COMMIT of much");
    assert!(!journal.exists());
}

/// Run by the tests above in a process of its own, which ends itself in the midst of writing: before
/// the step of that number, or before committing a batch larger than the database's memory.
#[test]
#[ignore = "started by the tests above"]
fn killed_child() {
    let folder = std::path::PathBuf::from(std::env::var_os(FOLDER).unwrap());
    let stop = std::env::var(STEP).unwrap();
    let head = folder.join("register.head");
    let mut register = Register::open(&folder.join("register.sqlite"), Some(&head)).unwrap();
    let (count, last) = (Mutex::new(0), stop.clone());
    register.set_fault(Some(Box::new(move |step| {
        let mut count = count.lock().unwrap();
        if step == last || count.to_string() == last {
            // no destructor, no rollback, no flush
            std::process::abort();
        }
        *count += 1;
        Ok(())
    })));
    let mut tx = register.begin(NOW).unwrap();
    if stop == "COMMIT" {
        let mut large = certificate("LBF-2026-000002", "S-9", "large", &[("L-9", 1, 1)]);
        large.pdf = vec![b'%'; 20_000_000];
        tx.append(entry(Kind::Issue, Some("LBF-2026-000002"), json!({})), Some(large)).unwrap();
    } else {
        batch(&mut tx).unwrap();
    }
    tx.commit(&sign).unwrap();
}

#[test]
fn a_creation_cut_short_can_be_done_again() {
    let folder = Folder::new();
    let create = || {
        let origin = "larkspur.example/register";
        Register::create(&folder.register(), origin, json!({}), "2026-11-25T14:05:00Z", [0; 32])
    };
    std::fs::write(folder.register(), b"").unwrap();
    create().unwrap();
    assert!(matches!(create(), Err(RegisterError::Exists { .. })));
}

#[test]
fn two_writers_at_once_leave_no_gap_and_no_duplicate() {
    const EACH: usize = 25;
    let folder = Folder::new();
    drop(folder.started());
    std::thread::scope(|scope| {
        for writer in 0..2 {
            let folder = &folder;
            scope.spawn(move || {
                let mut register = folder.open();
                for nth in 0..EACH {
                    let shipment = format!("S-{writer}-{nth}");
                    issue_one(&mut register, &shipment, &[("L-1", 1, 2 * EACH as u64)]);
                }
            });
        }
    });
    let mut register = folder.open();
    let audit = register.audit_with(&check).unwrap();
    assert!(audit.is_sound(), "{:?}", audit.problems);
    assert_eq!((audit.size, audit.certificates), (2 * EACH as u64 + 1, 2 * EACH as u64));
    assert_eq!(register.certified("L-1").unwrap(), 2 * EACH as u64);
    // the kept head is the newest, whichever writer was slower
    assert_eq!(register.kept_head().unwrap(), KeptHead::Agrees { size: 2 * EACH as u64 + 1 });
    let mut tx = register.begin(NOW).unwrap();
    assert!(matches!(
        issue(&mut tx, "S-9", "x", &[("L-1", 1, 2 * EACH as u64)]),
        Err(RegisterError::MoreThanAccepted { .. })
    ));
}

#[test]
fn a_slow_writer_cannot_put_an_older_head_over_a_newer() {
    let folder = Folder::new();
    drop(folder.started());
    let (reached, slow_is_at_its_head) = std::sync::mpsc::channel();
    std::thread::scope(|scope| {
        let slow = &folder;
        scope.spawn(move || {
            let mut register = slow.open();
            register.set_fault(Some(Box::new(move |step| {
                if step == "write the head aside" {
                    reached.send(()).unwrap();
                    std::thread::sleep(std::time::Duration::from_millis(300));
                }
                Ok(())
            })));
            issue_one(&mut register, "S-slow", &[("L-1", 1, 9)]);
        });
        slow_is_at_its_head.recv().unwrap();
        issue_one(&mut folder.open(), "S-fast", &[("L-1", 1, 9)]);
    });
    assert_eq!(folder.open().kept_head().unwrap(), KeptHead::Agrees { size: 3 });
}
