//! Clauses that build on another pack: what they may build on, what they may choose, and that they loosen nothing.

use crate::lint::Lints;
use crate::pack::Pack;
use crate::part::OrderOption;
use crate::path::Path;
use crate::rulebook;

/// Looks a pack of clauses over beside the one it builds on.
pub(super) fn pack(lints: &mut Lints) {
    let root = Path::root();
    let pack = lints.pack;
    let Some(wanted) = &pack.builds_on else {
        if pack.chooses() {
            let found = "it chooses of a pack, and names none with `builds_on:`";
            lints.fault(
                root,
                found,
                "the pack whose choices these are",
                "add `builds_on: astm-a967` or the like",
            );
        }
        return;
    };
    let all = lints.beside.packs;
    let Some(base) = all.iter().find(|p| p.pack == *wanted && p.pack != pack.pack && !p.is_house()) else {
        return; // told already
    };
    if base.builds_on.is_some() {
        let found = format!("`{wanted}`, which builds on another itself");
        lints.fault(root.key("builds_on"), found, "a standard", "build on the pack that one builds on");
    }
    // Their own would stand in the way of the names that call-outs use.
    for (key, empty) in [("treatments", pack.treatments.is_empty()), ("classes", pack.classes.is_empty())] {
        if !empty {
            let found = format!("{key} of its own beside those of `{wanted}`");
            lints.fault(root.key(key), found, "those of the pack it builds on", "leave out its own");
        }
    }
    let names = || std::iter::once(&pack.designation).chain(&pack.also_written);
    for other in all.iter().filter(|p| p.pack != pack.pack) {
        if let Some(name) = names().find(|name| other.is_designated(name)) {
            let found = format!("`{name}`, which call-outs of `{}` write", other.pack);
            lints.fault(
                root.key("designation"),
                found,
                "a name no other pack has",
                "give it a name of its own",
            );
        }
    }
    choices(lints, pack, base);
    for loosened in rulebook::loosened(pack, base) {
        let index = pack.requirements.iter().position(|r| r.id == loosened.clause).unwrap_or_default();
        let path = root.key("requirements").index(index).key("check");
        let expected = format!("no looser than `{}`, {}", loosened.base, loosened.limit);
        lints.fault(path, loosened.found(), &expected, &loosened.mend());
    }
}

fn choices(lints: &mut Lints, pack: &Pack, base: &Pack) {
    let path = |key: &str, index| Path::root().key(key).index(index);
    let wanted = &base.pack;
    let listed = |all: Vec<&str>| {
        if all.is_empty() { "it leaves none open".to_owned() } else { format!("one of: {}", all.join(", ")) }
    };
    let tests = listed(base.tests.iter().map(|t| t.test.name()).collect());
    let classes = listed(base.classes.iter().map(|c| c.class.as_str()).collect());
    let open = |option: OrderOption| base.requirements.iter().any(|r| r.when.options.contains(&option));
    let options = OrderOption::ALL.iter().filter(|o| open(**o) || is_general(**o));
    let options = listed(options.map(|o| o.name()).collect());
    for (index, chosen) in pack.chooses_tests.iter().enumerate() {
        if !base.tests.iter().any(|t| t.test == chosen.test) {
            let found = format!("{}, which is no test of `{wanted}`", chosen.test.name());
            lints.fault(path("chooses_tests", index), found, "a test of the pack it builds on", &tests);
        }
    }
    if let Some(chosen) = &pack.chooses_class
        && !base.classes.iter().any(|c| c.class == chosen.class)
    {
        let found = format!("class {}, which is no class of `{wanted}`", chosen.class);
        let at = Path::root().key("chooses_class");
        lints.fault(at, found, "a class of the pack it builds on", &classes);
    }
    for (index, chosen) in pack.chooses_options.iter().enumerate() {
        if !open(chosen.option) && !is_general(chosen.option) {
            let found = format!("`{}`, which `{wanted}` does not leave open", chosen.option.name());
            lints.fault(path("chooses_options", index), found, "an option it leaves open", &options);
        }
    }
}

/// Options that the program itself knows, whatever the standard.
const fn is_general(option: OrderOption) -> bool {
    matches!(
        option,
        OrderOption::CouponsAllowed | OrderOption::MethodTwoAuthorized | OrderOption::RecordsOpen
    )
}
