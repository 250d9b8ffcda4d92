//! A purchaser's clauses that build on another standard: judged for the treatment and the tests ordered under that
//! standard's call-out. What they choose counts as if that call-out had named it. They loosen nothing, because the
//! standard itself is judged beside them.

use std::borrow::Cow;

use crate::alloy::Alloy;
use crate::alloy::Series;
use crate::finding::Document;
use crate::finding::Place;
use crate::judge::Dossier;
use crate::judge::called::Called;
use crate::judge::called::call_outs;
use crate::judge::names::standard_name;
use crate::judge::orders;
use crate::judge::step;
use crate::order::Order;
use crate::pack::Pack;
use crate::part::CallOut;
use crate::path::Path;
use crate::rulebook::EffectivePack;

/// Call-outs with where they stand, and the packs they are judged by.
pub(super) struct Built {
    pub(super) calls: Vec<(CallOut, Place)>,
    pub(super) packs: Vec<EffectivePack>,
    pub(super) troubles: Vec<Trouble>,
}

/// Two call-outs that do not go together, found before any limit is looked at.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Trouble {
    pub(super) place: Place,
    /// What stands there.
    pub(super) found: String,
    /// What would have to stand there.
    pub(super) wanted: String,
}

impl Pack {
    /// Whether it orders something of the pack it builds on.
    pub fn chooses(&self) -> bool {
        !self.chooses_options.is_empty() || !self.chooses_tests.is_empty() || self.chooses_class.is_some()
    }
}

/// A dossier whose clauses speak of the treatments and tests of the standard they build on.
pub fn resolved(dossier: &Dossier) -> Cow<'_, Dossier> {
    if dossier.packs.iter().all(|p| p.pack.builds_on.is_none()) {
        return Cow::Borrowed(dossier);
    }
    let calls = call_outs(dossier).into_iter().map(|Called { call_out, place }| (call_out.clone(), place));
    let built = build(&dossier.order, &dossier.packs, calls.collect(), dossier.alloy.as_ref());
    let mut resolved = dossier.clone();
    resolved.packs = built.packs;
    let mut calls = built.calls.into_iter().map(|(call, _)| call);
    for call in &mut resolved.part.calls_for {
        calls.next().into_iter().for_each(|built| *call = built);
    }
    let line = resolved.order.lines.iter_mut().find(|l| l.line == resolved.record.order.line);
    for call in line.into_iter().flat_map(|l| &mut l.also_calls_for) {
        calls.next().into_iter().for_each(|built| *call = built);
    }
    Cow::Owned(resolved)
}

/// The standard that clauses build on, where it is called out.
pub fn base_of<'a>(dossier: &'a Dossier, clauses: &EffectivePack) -> Option<&'a EffectivePack> {
    let base = clauses.pack.builds_on.as_deref()?;
    let called = call_outs(dossier);
    let is_called = |p: &EffectivePack| {
        let mut named = called.iter().filter_map(|c| c.call_out.standard.as_deref());
        named.any(|named| orders::is_called(dossier, p, named))
    };
    dossier.packs.iter().find(|p| p.pack.pack == base && p.pack.builds_on.is_none() && is_called(p))
}

/// Whether a choice is made for this grade. Where the grade is not known it is: what it asks is then held, not lost.
fn is_for(series: &[Series], alloy: Option<&Alloy>) -> bool {
    series.is_empty() || alloy.is_none_or(|alloy| series.contains(&alloy.series))
}

fn pack_at(order: &Order, packs: &[EffectivePack], call: &CallOut) -> Option<usize> {
    let named = call.standard.as_deref()?;
    packs.iter().position(|p| !p.pack.is_house() && orders::is_called_by(order, p, named))
}

/// Gives every call-out of a purchaser's clauses the treatment and tests of the call-outs it builds on, and those
/// what the clauses choose.
pub(super) fn build(
    order: &Order,
    packs: &[EffectivePack],
    calls: Vec<(CallOut, Place)>,
    alloy: Option<&Alloy>,
) -> Built {
    let mut built = Built { calls, packs: packs.to_vec(), troubles: Vec::new() };
    let at: Vec<Option<usize>> = built.calls.iter().map(|(call, _)| pack_at(order, packs, call)).collect();
    let pack = |i: usize| at.get(i).copied().flatten().and_then(|at| packs.get(at));
    let mut pairs: Vec<(usize, Vec<usize>)> = Vec::new();
    for i in 0..built.calls.len() {
        let Some(clauses) = pack(i) else { continue };
        let Some(wanted) = clauses.pack.builds_on.as_deref() else { continue };
        let of_base =
            |j: &usize| pack(*j).is_some_and(|p| p.pack.pack == wanted && p.pack.builds_on.is_none());
        let bases: Vec<usize> = (0..built.calls.len()).filter(of_base).collect();
        match bases.first() {
            Some(_) => pairs.push((i, bases)),
            // Resolved already, by whoever plans one call-out at a time: what they build on is in them.
            None if !clauses.pack.treatments.is_empty() || !clauses.pack.tests.is_empty() => {}
            None => built.trouble(
                i,
                format!("{} builds on `{wanted}`, which is not called out", standard_name(clauses)),
                format!("a call-out of `{wanted}` beside it, with treatment and tests"),
            ),
        }
    }
    // What any of the clauses chooses is ordered before any of them inherits it.
    for (i, bases) in &pairs {
        if let (Some(clauses), Some(base)) = (pack(*i), bases.first().and_then(|j| pack(*j))) {
            built.choose(*i, bases, clauses, base, alloy);
        }
    }
    for (i, bases) in &pairs {
        let Some(base) = bases.first().and_then(|j| pack(*j)) else { continue };
        if let Some(clauses) = at.get(*i).copied().flatten().and_then(|at| built.packs.get_mut(at)) {
            take_from(&mut clauses.pack, &base.pack);
        }
        let editions = || bases.iter().filter_map(|j| pack(*j)).map(standard_name);
        if editions().any(|name| name != standard_name(base)) {
            let found = format!("{} are both called out", editions().collect::<Vec<_>>().join(" and "));
            built.trouble(*i, found, "one edition for the clauses to build on".to_owned());
        }
        built.inherit(*i, bases, base);
    }
    built
}

/// What clauses need of the pack they build on, for judging by its names.
fn take_from(clauses: &mut Pack, base: &Pack) {
    let known: Vec<String> = clauses.treatments.iter().map(|t| t.id.clone()).collect();
    clauses.treatments.extend(base.treatments.iter().filter(|t| !known.contains(&t.id)).cloned());
    let known: Vec<_> = clauses.tests.iter().map(|t| t.test).collect();
    clauses.tests.extend(base.tests.iter().filter(|t| !known.contains(&t.test)).cloned());
    let known: Vec<String> = clauses.classes.iter().map(|c| c.class.clone()).collect();
    clauses.classes.extend(base.classes.iter().filter(|c| !known.contains(&c.class)).cloned());
    clauses.default_class = clauses.default_class.take().or_else(|| base.default_class.clone());
    clauses.test_pieces = clauses.test_pieces.max(base.test_pieces);
    clauses.shop_chooses_tests |= base.shop_chooses_tests;
}

impl Built {
    fn call(&self, i: usize) -> Option<&CallOut> {
        self.calls.get(i).map(|(call, _)| call)
    }

    fn trouble(&mut self, i: usize, found: String, wanted: String) {
        let place = self.calls.get(i).map(|(_, place)| place.clone());
        let place = place.unwrap_or(Place { document: Document::Part, path: Path::root().key("calls_for") });
        self.troubles.push(Trouble { place, found, wanted });
    }

    /// Gives the call-outs of the base what the clauses, or their own call-out, choose.
    fn choose(
        &mut self,
        i: usize,
        bases: &[usize],
        clauses: &EffectivePack,
        base: &EffectivePack,
        alloy: Option<&Alloy>,
    ) {
        let Some(own) = self.call(i).cloned() else { return };
        let name = standard_name(clauses);
        let of_grade = || clauses.pack.chooses_tests.iter().filter(|c| is_for(&c.series, alloy));
        let chosen = of_grade().map(|c| c.test);
        let pieces = of_grade().filter_map(|c| c.pieces).max();
        let also = own.tests.iter().copied().filter(|t| base.pack.tests.iter().any(|named| named.test == *t));
        let ordered: Vec<_> =
            bases.iter().filter_map(|j| self.call(*j)).flat_map(|c| c.tests.clone()).collect();
        let mut tests = Vec::new();
        for test in chosen.chain(also).filter(|t| !ordered.contains(t)) {
            if !tests.contains(&test) {
                tests.push(test);
            }
        }
        let options =
            clauses.pack.chooses_options.iter().filter(|c| is_for(&c.series, alloy)).map(|c| c.option);
        let options: Vec<_> = options.chain(own.options.iter().copied()).collect();
        let by_clause = clauses.pack.chooses_class.as_ref().map(|c| &c.class);
        let class = own.class.as_ref().or(by_clause).cloned();
        if let Some(there) = by_clause.filter(|c| own.class.as_ref().is_some_and(|own| own != *c)) {
            let found = format!(
                "class {} is called out with {name}, which orders class {there}",
                own.class.as_deref().unwrap_or_default()
            );
            self.trouble(i, found, "one class".to_owned());
        }
        for (first, j) in bases.iter().enumerate().map(|(n, j)| (n == 0, *j)) {
            let mut differ: Vec<(String, &str)> = Vec::new();
            let Some((call, _)) = self.calls.get_mut(j) else { continue };
            if first {
                call.tests.append(&mut tests);
                call.test_pieces = call.test_pieces.max(own.test_pieces).max(pieces);
            }
            for option in &options {
                if !call.options.contains(option) {
                    call.options.push(*option);
                }
            }
            let mut one = |there: &mut Option<String>, own: &Option<String>, what: &'static str| {
                let Some(own) = own else { return };
                match there {
                    Some(there) if !step::matches(there, own) => differ.push((
                        format!("{what} {there} by {}; {what} {own} by {name}", standard_name(base)),
                        what,
                    )),
                    Some(_) => {}
                    None => *there = Some(own.clone()),
                }
            };
            one(&mut call.treatment, &own.treatment, "treatment");
            one(&mut call.class, &class, "class");
            match (call.sampling, own.sampling) {
                (None, plan) => call.sampling = plan,
                (Some(there), Some(own)) if there != own => {
                    differ.push((format!("two sampling plans, one of them with {name}"), "sampling plan"));
                }
                _ => {}
            }
            for (found, what) in differ {
                self.trouble(i, found, format!("one {what}"));
            }
        }
    }

    /// Gives the clauses' own call-out what is ordered under the base.
    fn inherit(&mut self, i: usize, bases: &[usize], base: &EffectivePack) {
        let from: Vec<CallOut> = bases.iter().filter_map(|j| self.call(*j)).cloned().collect();
        let named: Vec<&String> = from.iter().filter_map(|c| c.treatment.as_ref()).collect();
        if let Some(first) = named.first()
            && let Some(other) = named.iter().find(|other| !step::matches(first, other))
        {
            let found = format!("{first} and {other} are both ordered by {}", standard_name(base));
            self.trouble(i, found, "one treatment for the clauses to speak of".to_owned());
        }
        let Some((call, _)) = self.calls.get_mut(i) else { return };
        call.treatment = call.treatment.take().or_else(|| named.first().map(|t| (*t).clone()));
        for other in &from {
            call.class = call.class.take().or_else(|| other.class.clone());
            call.sampling = call.sampling.or(other.sampling);
            call.test_pieces = call.test_pieces.max(other.test_pieces);
            for test in other.tests.iter().filter(|t| !call.tests.contains(t)).collect::<Vec<_>>() {
                call.tests.push(*test);
            }
            for option in other.options.iter().filter(|o| !call.options.contains(o)).collect::<Vec<_>>() {
                call.options.push(*option);
            }
        }
    }
}

/// The packs and call-outs of a part and an order line, with the clauses of purchasers resolved: for whoever has to
/// know what is asked before there is a record.
pub fn asked_for(
    order: &Order,
    packs: &[EffectivePack],
    calls: &[&CallOut],
    alloy: Option<&Alloy>,
) -> (Vec<EffectivePack>, Vec<CallOut>) {
    let place = Place { document: Document::Part, path: Path::root() };
    let calls = calls.iter().map(|call| ((*call).clone(), place.clone())).collect();
    let built = build(order, packs, calls, alloy);
    (built.packs, built.calls.into_iter().map(|(call, _)| call).collect())
}

/// What clauses choose of a standard that is called out: each with the clause that does.
pub fn chosen(dossier: &Dossier, standard: &str) -> Vec<(String, String)> {
    let called = call_outs(dossier);
    let named = || called.iter().filter_map(|c| c.call_out.standard.as_deref());
    let in_force =
        |p: &&EffectivePack| !p.pack.is_house() && named().any(|named| orders::is_called(dossier, p, named));
    let base = dossier.packs.iter().find(|p| !p.pack.is_house() && orders::is_called(dossier, p, standard));
    let Some(base) = base else { return Vec::new() };
    let mut all = Vec::new();
    for clauses in dossier.packs.iter().filter(in_force) {
        if clauses.pack.builds_on.as_deref() != Some(base.pack.pack.as_str()) {
            continue;
        }
        let by = |clause: &str| format!("{}, {clause}", standard_name(clauses));
        let class = clauses.pack.chooses_class.iter().map(|c| (format!("class {}", c.class), by(&c.clause)));
        let alloy = dossier.alloy.as_ref();
        let tests = clauses.pack.chooses_tests.iter().filter(|c| is_for(&c.series, alloy));
        let tests = tests.map(|c| (c.test.name().to_owned(), by(&c.clause)));
        let options = clauses.pack.chooses_options.iter().filter(|c| is_for(&c.series, alloy));
        let options = options.map(|c| (c.option.name().to_owned(), by(&c.clause)));
        all.extend(class.chain(tests).chain(options));
    }
    all
}

/// The standard that a called-out pack of clauses builds on, as it is called out.
pub fn builds_on(dossier: &Dossier, standard: &str) -> Option<String> {
    let clauses = dossier.packs.iter().find(|p| orders::is_called(dossier, p, standard))?;
    base_of(dossier, clauses).map(standard_name)
}
