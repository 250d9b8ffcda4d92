//! Every step that changes the register fails in turn.

use std::sync::Arc;
use std::sync::Mutex;

use super::Fault;
use super::VERBS;
use super::Verb;
use super::act;
use super::copied;
use super::finished;
use super::head_is_kept;
use super::left_over;
use super::made;

/// The steps a verb takes, by name.
fn steps(verb: Verb) -> Vec<String> {
    let seen = Arc::new(Mutex::new(Vec::new()));
    let noted = Arc::clone(&seen);
    let note: Fault = Box::new(move |step| {
        noted.lock().unwrap().push(step.to_owned());
        Ok(())
    });
    let folder = copied("interrupted-steps");
    act(verb, &folder, Some(note)).unwrap();
    finished(verb, &folder);
    assert!(head_is_kept(&folder));
    Arc::into_inner(seen).unwrap().into_inner().unwrap()
}

/// Fails at the step of that turn.
fn at_step(turn: usize) -> Fault {
    let count = Mutex::new(0_usize);
    Box::new(move |step| {
        let mut count = count.lock().unwrap();
        *count += 1;
        if *count == turn + 1 { Err(format!("step {turn}: {step}")) } else { Ok(()) }
    })
}

#[test]
fn a_failure_at_any_step_leaves_all_or_nothing() {
    let mut tried = 0;
    for verb in VERBS {
        let steps = steps(verb);
        let commit = steps.iter().position(|s| s == "COMMIT").unwrap();
        assert!(commit >= 3 && steps.len() == commit + 3, "{verb:?}: {steps:?}");
        for (turn, step) in steps.iter().enumerate() {
            let folder = copied("interrupted-step");
            let done = act(verb, &folder, Some(at_step(turn)));
            assert_eq!(left_over(&folder), Vec::<String>::new(), "{verb:?} at {step}");
            if turn <= commit {
                let error = done.unwrap_err().to_string();
                assert!(error.contains("failure asked for"), "{verb:?} at {step}: {error}");
                assert_eq!(made(verb, &folder), 0, "{verb:?} at {step}");
                assert!(head_is_kept(&folder));
                act(verb, &folder, None).unwrap();
            } else {
                // The entry is in; only the head outside lags, and the next writing brings it up.
                done.unwrap();
                assert!(!head_is_kept(&folder), "{verb:?} at {step}");
                assert_eq!(made(verb, &folder), verb.adds());
                act(Verb::Issue, &folder, None).unwrap();
                assert!(head_is_kept(&folder), "{verb:?} at {step}");
                if verb == Verb::Issue {
                    finished(verb, &folder);
                }
                tried += 1;
                continue;
            }
            finished(verb, &folder);
            assert!(head_is_kept(&folder));
            tried += 1;
        }
    }
    println!("{tried} steps failed in turn");
    assert!(tried >= 40, "{tried}");
}
