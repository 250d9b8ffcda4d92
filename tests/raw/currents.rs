//! Current density and voltage of an electropolish: judged by the rectifier's log and by what was typed beside it,
//! never by the milder of the two. The limits are invented for these tests: no figure of a standard is known.

use brightproof::computed::LogFigures;
use brightproof::computed::Reading;
use brightproof::judge::Dossier;
use brightproof::pack::Check;
use brightproof::pack::Subject;
use brightproof::pack::Window;
use brightproof::record::Immersion;
use brightproof::rulebook::Standing;

use super::TRACED;
use super::gaps;
use crate::support::dossier;
use crate::support::immersion;
use crate::support::read;

/// The lot with one demand of the call-out for the electropolish: this subject, within these limits.
fn demanded(subject: Subject, from: &str, to: &str) -> Dossier {
    let mut dossier = dossier(TRACED);
    let id = "electropolish.current-density";
    let pack = dossier.packs.iter_mut().find(|p| p.pack.requirements.iter().any(|r| r.id == id)).unwrap();
    let at = pack.pack.requirements.iter().position(|r| r.id == id).unwrap();
    let requirement = &mut pack.pack.requirements[at];
    (requirement.subject, requirement.advice) = (subject, false);
    let window = Window { from: Some(read(from)), to: Some(read(to)), unit: None, basis: None };
    requirement.check = Check::Within(vec![window]);
    pack.standing[at] = Standing::Own;
    // The means and the greatest readings of the log; the least are nothing, the current is off at both ends.
    for (measures, mean, most) in [("current", "1200 A", "1600 A"), ("voltage", "9.5 V", "11.0 V")] {
        let all = &mut log(&mut dossier).channels;
        let channel = all.iter_mut().find(|c| c.measures == measures).unwrap();
        (channel.mean, channel.maximum) = (read(mean), read(most));
    }
    dip(&mut dossier).area = Some(read("80 dm²"));
    dossier
}

fn log(dossier: &mut Dossier) -> &mut LogFigures {
    let all = dossier.computed.iter_mut();
    let logs = all.filter_map(|c| if let Reading::Log(log) = &mut c.found { Some(log) } else { None });
    logs.last().unwrap()
}

fn dip(dossier: &mut Dossier) -> &mut Immersion {
    let step = dossier.record.runs[0].steps.iter_mut().find(|s| s.key() == "electropolish").unwrap();
    immersion(step).unwrap()
}

/// The gaps of the demand.
fn held(dossier: &Dossier) -> Vec<String> {
    let all = gaps(dossier).into_iter();
    all.filter(|gap| gap.starts_with("astm-b912/electropolish.current-density, ")).collect()
}

/// By hand: over 80 dm² the mean of 1200 A is 15 A/dm², the greatest reading of 1600 A is 20 A/dm².
#[test]
fn current_density_is_judged_by_the_log() {
    let within = |from: &str, to: &str| held(&demanded(Subject::CurrentDensity, from, to));
    assert_eq!(within("15 A/dm²", "20 A/dm²"), Vec::<String>::new());
    let low = within("15.01 A/dm²", "20 A/dm²");
    assert!(low.len() == 1 && low[0].contains("[15 A/dm²]"), "{low:#?}");
    let high = within("15 A/dm²", "19.99 A/dm²");
    assert!(high.len() == 1 && high[0].contains("[20 A/dm²]"), "{high:#?}");
}

/// What was typed is judged beside the log, and must agree with it.
#[test]
fn a_typed_current_density_does_not_stand_in_for_the_log() {
    let mut typed = demanded(Subject::CurrentDensity, "10 A/dm²", "18 A/dm²");
    dip(&mut typed).current_density = Some(read("15 A/dm²"));
    let found = held(&typed);
    assert!(found.len() == 1 && found[0].contains("[20 A/dm²]"), "{found:#?}");
    let mut typed = demanded(Subject::CurrentDensity, "10 A/dm²", "20 A/dm²");
    assert_eq!(gaps(&typed), Vec::<String>::new());
    dip(&mut typed).current_density = Some(read("21 A/dm²"));
    let found = held(&typed);
    assert!(found.len() == 1 && found[0].contains("[21 A/dm²]"), "{found:#?}");
    assert!(gaps(&typed).iter().any(|g| g.starts_with("house/figures.agree, ")), "{:#?}", gaps(&typed));
}

/// Without a log, or without the surface to reckon by, what was typed is judged; with nothing typed there is a gap.
#[test]
fn without_a_log_or_an_area_the_typed_current_density_is_asked() {
    let mut bare = demanded(Subject::CurrentDensity, "10 A/dm²", "20 A/dm²");
    dip(&mut bare).area = None;
    let found = held(&bare);
    assert!(found.len() == 1 && found[0].contains(": NoEvidence"), "{found:#?}");
    dip(&mut bare).log = None;
    assert_eq!(held(&bare).len(), 1);
    for (typed, gaps) in [("10 A/dm²", 0), ("20 A/dm²", 0), ("9.9 A/dm²", 1), ("20.1 A/dm²", 1)] {
        dip(&mut bare).current_density = Some(read(typed));
        assert_eq!(held(&bare).len(), gaps, "{typed}");
    }
}

/// The same of the voltage, whose least reading is nothing too: the mean stands below.
#[test]
fn voltage_is_judged_by_the_log_and_as_typed() {
    let within = |from: &str, to: &str| held(&demanded(Subject::Voltage, from, to));
    assert_eq!(within("9.5 V", "11.0 V"), Vec::<String>::new());
    let low = within("9.6 V", "11.0 V");
    assert!(low.len() == 1 && low[0].contains("[9.5 V]"), "{low:#?}");
    let high = within("9.5 V", "10.9 V");
    assert!(high.len() == 1 && high[0].contains("[11.0 V]"), "{high:#?}");
    let mut typed = demanded(Subject::Voltage, "9.5 V", "11.0 V");
    dip(&mut typed).voltage = Some(read("11.1 V"));
    let found = held(&typed);
    assert!(found.len() == 1 && found[0].contains("[11.1 V]"), "{found:#?}");
    dip(&mut typed).log = None;
    typed.computed.retain(|c| c.log().is_none());
    dip(&mut typed).voltage = None;
    let found = held(&typed);
    assert!(found.len() == 1 && found[0].contains(": NoEvidence"), "{found:#?}");
}
