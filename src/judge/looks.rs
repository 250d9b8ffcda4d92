//! Evidence of looks at the finished surface: only looks made after the last treatment of the pieces count, and
//! no piece is looked at twice over.

use std::collections::BTreeSet;

use crate::judge::Dossier;
use crate::judge::Evidence;
use crate::judge::Found;
use crate::judge::Resolved;
use crate::judge::runs::FinalRun;
use crate::judge::runs::final_runs;
use crate::judge::tests_made::sample_of;
use crate::pack::Pack;
use crate::pack::SamplingTable;
use crate::pack::Subject;
use crate::part::CallOut;
use crate::path::Path;
use crate::record::Visual;

/// Whether a look speaks for a run: it covers it and was made after its end.
fn counts_for(look: &Visual, run: &FinalRun) -> bool {
    run.covered_by(&look.covers) && run.end().is_some_and(|end| look.at >= end)
}

/// Runs that share looks, and those looks: one look at two runs does not say how many pieces of each it saw, so
/// the runs are counted together.
struct Group<'a> {
    pieces: u64,
    looks: Vec<(usize, &'a Visual)>,
    looked_at: u64,
}

impl<'a> Group<'a> {
    fn of(dossier: &'a Dossier, runs: &[FinalRun], run: &FinalRun) -> Group<'a> {
        let mut members = BTreeSet::from([run.index]);
        let mut looks: Vec<(usize, &Visual)> = Vec::new();
        let mut waiting: Vec<&FinalRun> = runs.iter().filter(|r| r.index == run.index).collect();
        // Each look is taken up once, and brings each of its runs in once.
        while let Some(next) = waiting.pop() {
            for (i, look) in dossier.record.visual.iter().enumerate() {
                if looks.iter().any(|(taken, _)| *taken == i) || !counts_for(look, next) {
                    continue;
                }
                looks.push((i, look));
                waiting.extend(runs.iter().filter(|r| counts_for(look, r) && members.insert(r.index)));
            }
        }
        looks.sort_by_key(|(i, _)| *i);
        let pieces_of = |look: Option<&Visual>| {
            runs.iter()
                .filter(|r| members.contains(&r.index) && look.is_none_or(|look| counts_for(look, r)))
                .fold(0_u64, |sum, r| sum.saturating_add(r.pieces))
        };
        // No look sees more pieces than there are.
        let seen = |look: &Visual| look.pieces.min(pieces_of(Some(look)));
        let looked_at = looks.iter().fold(0_u64, |sum, (_, look)| sum.saturating_add(seen(look)));
        Group { pieces: pieces_of(None), looks, looked_at }
    }

    fn failed(&self) -> u64 {
        self.looks.iter().fold(0_u64, |sum, (_, look)| sum.saturating_add(look.failed))
    }
}

/// Pieces to look at and failures allowed by the sampling plan ordered; none ordered: every piece is looked at, and
/// none may fail (rule of the house).
pub fn by_plan(tables: &[SamplingTable], call_out: &CallOut, pack: &Pack, lot: u64) -> Option<(u64, u64)> {
    call_out.sampling.and_then(|_| sample_of(tables, call_out, pack, lot))
}

/// Evidence for one run: how many pieces were looked at, or what was seen.
pub fn evidence(
    dossier: &Dossier,
    resolved: &Resolved,
    runs: &[FinalRun],
    run: &FinalRun,
    subject: Subject,
) -> Vec<Evidence> {
    let path = Path::root().key("visual");
    // A look shared with runs that stay is counted over all of them, or it would be taken for a look at the part.
    let all = dossier.covers_runs.as_ref().map(|_| final_runs(&dossier.record));
    let runs = all.as_deref().unwrap_or(runs);
    let own = dossier.record.visual.iter().filter(|look| counts_for(look, run));
    let looked_at = own.fold(0_u64, |sum, look| sum.saturating_add(look.pieces));
    let group = Group::of(dossier, runs, run);
    if group.looks.is_empty() {
        return vec![Evidence::missing(path)];
    }
    if subject == Subject::VisualLight {
        let each = group.looks.iter().map(|(i, look)| {
            let path = path.index(*i).key("light");
            look.light.map_or_else(
                || Evidence::missing(path.clone()),
                |light| Evidence::record(path.clone(), Found::Quantity(light)),
            )
        });
        return each.collect();
    }
    let planned = |pieces| by_plan(&dossier.sampling, resolved.call_out, &resolved.pack.pack, pieces);
    if subject == Subject::VisualCount {
        let counted = |pieces, lot| {
            let ordered = planned(lot).map_or(lot, |(ordered, _)| ordered);
            Evidence::record(path.clone(), Found::Counted { pieces, ordered, lot })
        };
        return vec![counted(group.looked_at, group.pieces), counted(looked_at, run.pieces)];
    }
    let accept = planned(group.pieces).map_or(0, |(_, accept)| accept);
    let failed = group.failed();
    let first = group.looks.iter().find(|(_, look)| look.failed > 0).or(group.looks.first());
    let path = first.map_or(path.clone(), |(i, _)| path.index(*i));
    let found = if failed > 0 && sorted_out(dossier, runs, &group) {
        Found::Fact { shown: format!("{failed} of {} refused and sorted out", group.looked_at), holds: true }
    } else {
        Found::Sample { pieces: group.looked_at, failed, accept }
    };
    vec![Evidence::record(path, found)]
}

/// Whether the pieces refused hold nobody up: every piece was looked at, and all that were refused in the lot are
/// counted out, beyond those that are shipped or used up.
fn sorted_out(dossier: &Dossier, runs: &[FinalRun], group: &Group) -> bool {
    let counts = &dossier.record.counts;
    let counting = dossier.record.visual.iter().filter(|look| runs.iter().any(|r| counts_for(look, r)));
    let refused = counting.fold(0_u64, |sum, look| sum.saturating_add(look.failed));
    let treated = runs.iter().fold(0_u64, |sum, r| sum.saturating_add(r.pieces));
    let gone = counts.accepted.saturating_add(counts.destroyed_in_test).saturating_add(refused);
    group.looked_at >= group.pieces && refused <= counts.rejected && gone <= treated
}
