//! `kernel`: installation, removal, and the start that front ends call.

use std::process::ExitCode;

use clap::{Arg, ArgAction, ArgMatches, Command};
use semilunar::kernel::{self, KernelError, Place};

use crate::{AFTER_EACH, Done, FILE, Stop, path, path_given, print};

pub(super) fn arguments() -> Command {
    let place = |command: Command| {
        command
            .arg(
                Arg::new("user")
                    .long("user")
                    .action(ArgAction::SetTrue)
                    .conflicts_with("prefix")
                    .help("In your own data folder of Jupyter; so without either option"),
            )
            .arg(
                Arg::new("prefix")
                    .long("prefix")
                    .value_name("DIR")
                    .help("In share/jupyter under this folder, such as that of an environment"),
            )
    };
    let start = Command::new("start")
        .about("Serve a front end; front ends call this themselves")
        .arg(
            Arg::new("connection")
                .value_name("CONNECTION_FILE")
                .required(true)
                .help("The file that the front end wrote"),
        );
    Command::new("kernel")
        .about("Notebooks that follow every change, in JupyterLab and other front ends")
        .subcommand_required(true)
        .arg_required_else_help(true)
        .subcommand(place(
            Command::new("install").about("Make the kernel known to Jupyter front ends"),
        ))
        .subcommand(place(Command::new("remove").about("Undo the installation")))
        .subcommand(start)
        .mut_subcommands(|command| command.after_help(AFTER_EACH))
}

pub(super) fn kernel(matches: &ArgMatches) -> Done {
    match matches.subcommand() {
        Some(("install", m)) => {
            let program = std::env::current_exe().map_err(|e| Stop(FILE, e.to_string()))?;
            let folder = kernel::install(&place(m), &program).map_err(stop)?;
            print(&format!("installed the kernel in {}", folder.display()))
        }
        Some(("remove", m)) => {
            let folder = kernel::remove(&place(m)).map_err(stop)?;
            print(&format!("removed the kernel from {}", folder.display()))
        }
        Some(("start", m)) => {
            kernel::serve(&path(m, "connection")).map_err(stop)?;
            Ok(ExitCode::SUCCESS)
        }
        _ => Ok(ExitCode::SUCCESS),
    }
}

fn place(matches: &ArgMatches) -> Place {
    path_given(matches, "prefix").map_or(Place::User, Place::Prefix)
}

fn stop(error: KernelError) -> Stop {
    Stop(FILE, error.to_string())
}
