//! Carries out a command line: verbs of the application in, text or JSON and an exit code out. Findings and
//! answers go to standard output, everything else to standard error.

mod alloy;
mod back;
mod calculate;
mod call_outs;
mod certificates;
mod evidence;
mod hold;
mod intake;
mod keys;
mod log;
mod passphrase;
mod plan;
mod record;
mod register;
mod release;
mod report;
mod rules;
mod shop;
mod time_stamps;

use std::fmt::Display;
use std::io;
use std::io::IsTerminal;
use std::io::Write;

use clap::CommandFactory;

use crate::app::desk::Desk;
use crate::app::error::Error;
use crate::app::world::World;
use crate::cli::Cli;
use crate::cli::Format;
use crate::cli::Key;
use crate::cli::Verb;
use crate::folder::Folder;

/// How a command ends. The numbers occur here alone.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Exit {
    /// Conforms, verifies, done.
    Good = 0,
    /// Gaps, or does not verify.
    Gaps = 1,
    /// Could not tell, or could not do.
    CouldNot = 2,
}

/// Where a command writes.
pub struct Output<'a> {
    /// Findings and answers.
    pub out: &'a mut dyn Write,
    /// Everything else.
    pub err: &'a mut dyn Write,
}

/// Why a command stopped.
pub enum Stop {
    /// It could not be done.
    Error(Error),
    /// Whoever reads the output went away.
    Output(io::Error),
}

impl<E: Into<Error>> From<E> for Stop {
    fn from(error: E) -> Self {
        Stop::Error(error.into())
    }
}

type Answer = Result<Exit, Stop>;

impl Output<'_> {
    fn say(&mut self, text: impl Display) -> Result<(), Stop> {
        writeln!(self.out, "{text}").map_err(Stop::Output)
    }

    fn note(&mut self, text: impl Display) -> Result<(), Stop> {
        writeln!(self.err, "{text}").map_err(Stop::Output)
    }

    fn error(&mut self, error: &Error) -> Result<(), Stop> {
        self.note(format_args!("error: {error}"))?;
        match error.hint() {
            Some(hint) => self.note(format_args!("  help: {hint}")),
            None => Ok(()),
        }
    }

    fn json<T: serde::Serialize>(&mut self, value: &T) -> Result<(), Stop> {
        let text =
            serde_json::to_string_pretty(value).map_err(|e| Error::cannot(e.to_string(), "report this"))?;
        self.say(text)
    }
}

/// Runs a command and answers its exit code.
pub fn run(cli: &Cli, world: &World, output: &mut Output) -> Exit {
    match carry_out(cli, world, output) {
        Ok(exit) => exit,
        Err(Stop::Error(error)) => {
            // Standard error may be gone as well; the exit code still says it.
            let _ = output.error(&error);
            Exit::CouldNot
        }
        // The reader closed the pipe (`| head`): nobody is left to tell.
        Err(Stop::Output(_)) => Exit::CouldNot,
    }
}

fn carry_out(cli: &Cli, world: &World, output: &mut Output) -> Answer {
    let folder = Folder::new(&cli.shop);
    let json = cli.format == Format::Json;
    if cli.format == Format::Csv && !matches!(cli.verb, Verb::Report(_)) {
        return Err(
            Error::cannot("comma-separated values are for reports", "use --format text or json").into()
        );
    }
    match &cli.verb {
        Verb::Init(init) => shop::init(init, world, output),
        Verb::Demo { folder } => shop::demo(&Folder::new(folder), world, output),
        Verb::Check { lots } => certificates::check(folder, lots, json, world, output),
        Verb::Correct(args) => record::correct(&folder, args, json, world, output),
        Verb::Issue(issue) => certificates::issue(folder, issue, json, world, output),
        Verb::Verify(verify) => certificates::verify(verify, json, output),
        Verb::Find(find) => back::find(&folder, find, json, output),
        Verb::Affected(affected) => back::affected(&folder, affected, json, output),
        Verb::Delivered(delivered) => back::delivered(&folder, delivered, json, world, output),
        Verb::Reissue(reissue) => back::reissue(&folder, reissue, json, world, output),
        Verb::Legacy(verb) => back::legacy(&folder, verb, json, world, output),
        Verb::Amend { number, by, why, kind, key, hands } => {
            certificates::amend(folder, number, by.as_deref(), why, *kind, key, hands, json, world, output)
        }
        Verb::Withdraw { number, by, why, parts } => {
            back::withdraw(&folder, (number, by, why, parts), json, world, output)
        }
        Verb::Notice { number } => back::notice(&folder, number, json, output),
        Verb::Rules(verb) => rules::run(verb, &folder, json, world, output),
        Verb::Register(verb) => register::run(verb, &folder, json, world, output),
        Verb::Completions { shell } => {
            let mut bytes = Vec::new();
            clap_complete::generate(*shell, &mut Cli::command(), "brightproof", &mut bytes);
            output.out.write_all(&bytes).map_err(Stop::Output)?;
            Ok(Exit::Good)
        }
        Verb::Report(verb) => report::run(verb, folder, cli.format, world, output),
        Verb::Prepare(prepare) => release::prepare(folder, prepare, json, world, output),
        Verb::Queue => release::queue(&folder, json, output),
        Verb::Release(release) => release::release(folder, release, json, world, output),
        Verb::People(verb) => release::people(folder, verb, json, world, output),
        Verb::HoldNote { name } => hold::note(folder, name, json, world, output),
        Verb::Intake(args) => intake::intake(folder, args, json, output),
        Verb::Alloy { name } => alloy::show(&folder, name, json, output),
        Verb::CallOuts(args) => call_outs::run(args, &folder, json, output),
        Verb::Blank(args) => intake::blank(folder, args, json, output),
        Verb::Plan(args) => plan::run(folder, args, json, world, output),
        Verb::Calculate(verb) => calculate::run(verb, &folder, json, output),
        Verb::Pictures(args) => calculate::pictures(args, &folder, json, output),
        Verb::Keys(verb) => keys::run(verb, &folder, json, world, output),
        Verb::Evidence(verb) => evidence::run(verb, folder, json, world, output),
        Verb::Manual => {
            let mut bytes = Vec::new();
            clap_mangen::Man::new(Cli::command())
                .render(&mut bytes)
                .map_err(|e| Error::cannot(e.to_string(), ""))?;
            output.out.write_all(&bytes).map_err(Stop::Output)?;
            Ok(Exit::Good)
        }
    }
}

fn open_desk(folder: Folder, key: &Key) -> Result<Desk, Error> {
    Desk::open(folder, &|| passphrase::of_key(key))
}

/// A progress bar on standard error, when somebody is looking and there is much to do.
fn progress(length: usize) -> indicatif::ProgressBar {
    if length < 8 || !io::stderr().is_terminal() {
        return indicatif::ProgressBar::hidden();
    }
    indicatif::ProgressBar::new(length as u64)
}
