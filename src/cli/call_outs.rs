//! The verb that reads a drawing's text.

use clap::Args;

/// Arguments of `call-outs`.
#[derive(Debug, Args)]
pub struct CallOuts {
    /// The text as it stands on the drawing or order; `-` reads standard input, one note a line
    pub text: String,
}
