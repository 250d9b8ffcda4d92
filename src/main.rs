//! The command. Everything it does is in the library.

use std::io::Write;

use brightproof::app::world::World;
use brightproof::cli::Cli;
use brightproof::command;
use brightproof::command::Output;

fn main() -> std::process::ExitCode {
    let cli = Cli::typed();
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    let mut err = std::io::stderr();
    let exit = command::run(&cli, &World::system(), &mut Output { out: &mut out, err: &mut err });
    // A reader that went away is no failure of ours.
    let _ = out.flush();
    std::process::ExitCode::from(exit as u8)
}
