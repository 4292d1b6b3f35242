//! Sets a shared repository up for a pre-receive hook: the hook itself, and what git refuses without one.
//!
//! First everything that would change is listed, then it is done, so that a dry run says exactly what a run does,
//! and a second run finds nothing left to do.

use std::fs;
use std::path::{Path, PathBuf};

use super::GitError;
use super::failure::at;
use super::hub::Hub;

/// How a shared repository is to be set up.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Setup {
    /// The text of the hook.
    pub script: String,
    /// A line by which an earlier text of the same hook is known, so that it may be replaced.
    pub mark: String,
    /// The branch that the repository is about, where HEAD is to name it.
    pub branch: Option<String>,
    /// Settings that get this value whatever stands there.
    pub settings: Vec<(String, String)>,
    /// Settings that get this value where nothing stands there.
    pub defaults: Vec<(String, String)>,
}

/// One thing that a setup does.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Deed {
    /// Writes the hook.
    Hook {
        /// Where.
        path: PathBuf,
        /// True where an earlier text of the same hook stood there.
        renewed: bool,
    },
    /// Writes a setting.
    Setting {
        /// Its key.
        key: String,
        /// Its value.
        value: String,
    },
    /// Makes HEAD name a branch.
    Head {
        /// The branch.
        branch: String,
    },
}

impl Hub {
    /// True for a repository without a working folder.
    #[must_use]
    pub(crate) fn is_bare(&self) -> bool {
        self.git.is_bare()
    }

    /// The folder of the repository.
    #[must_use]
    pub(crate) fn path(&self) -> &Path {
        self.git.path()
    }

    /// What a setup would change here.
    ///
    /// # Errors
    /// [`GitError::NotEmpty`] where another hook stands there, [`GitError::Io`] and the like.
    pub fn deeds(&self, setup: &Setup) -> Result<Vec<Deed>, GitError> {
        let mut deeds = Vec::new();
        let path = self.hook_folder()?.join("pre-receive");
        match fs::read(&path) {
            Ok(there) if there == setup.script.as_bytes() && is_program(&path) => {}
            Ok(there) if String::from_utf8_lossy(&there).lines().any(|line| line == setup.mark) => {
                deeds.push(Deed::Hook { path, renewed: true });
            }
            Ok(_) => return Err(GitError::NotEmpty { path }),
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => {
                // A link that leads nowhere is somebody's hook too.
                if path.symlink_metadata().is_ok() {
                    return Err(GitError::NotEmpty { path });
                }
                deeds.push(Deed::Hook { path, renewed: false });
            }
            Err(e) => return Err(at(&path)(e)),
        }
        if let Some(branch) = &setup.branch {
            let head = self.git.find_reference("HEAD")?;
            if head.symbolic_target()? != Some(format!("refs/heads/{branch}").as_str()) {
                deeds.push(Deed::Head { branch: branch.clone() });
            }
        }
        let own = self.git.config()?.open_level(git2::ConfigLevel::Local)?;
        for (key, value) in &setup.settings {
            if own.get_string(key).ok().as_deref() != Some(value) {
                deeds.push(Deed::Setting { key: key.clone(), value: value.clone() });
            }
        }
        for (key, value) in &setup.defaults {
            if own.get_string(key).is_err() {
                deeds.push(Deed::Setting { key: key.clone(), value: value.clone() });
            }
        }
        Ok(deeds)
    }

    /// True where a hook of a setup with that mark stands here and can be run.
    #[must_use]
    pub(crate) fn has_hook(&self, mark: &str) -> bool {
        let path = self.hook_folder().map(|folder| folder.join("pre-receive"));
        path.is_ok_and(|path| {
            is_program(&path)
                && fs::read_to_string(&path).is_ok_and(|text| text.lines().any(|line| line == mark))
        })
    }

    /// Does what was listed. The hook comes last, so that it never runs with half of its settings.
    ///
    /// # Errors
    /// [`GitError::NotWritable`] and the like.
    pub fn set_up(&self, setup: &Setup, deeds: &[Deed]) -> Result<(), GitError> {
        let mut own = self.git.config()?.open_level(git2::ConfigLevel::Local)?;
        for deed in deeds {
            match deed {
                Deed::Setting { key, value } => own.set_str(key, value)?,
                Deed::Head { branch } => self.git.set_head(&format!("refs/heads/{branch}"))?,
                Deed::Hook { .. } => {}
            }
        }
        for deed in deeds {
            if let Deed::Hook { path, .. } = deed {
                write_program(path, &setup.script)?;
            }
        }
        Ok(())
    }

    fn hook_folder(&self) -> Result<PathBuf, GitError> {
        let own = self.git.config()?.open_level(git2::ConfigLevel::Local)?;
        Ok(match own.get_path("core.hooksPath") {
            Ok(elsewhere) => self.git.path().join(elsewhere),
            Err(_) => self.git.commondir().join("hooks"),
        })
    }
}

fn is_program(path: &Path) -> bool {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        fs::metadata(path).is_ok_and(|meta| meta.permissions().mode() & 0o111 != 0)
    }
    #[cfg(not(unix))]
    {
        path.exists()
    }
}

fn write_program(path: &Path, script: &str) -> Result<(), GitError> {
    if let Some(folder) = path.parent() {
        fs::create_dir_all(folder).map_err(at(folder))?;
    }
    let part = path.with_extension("part");
    fs::write(&part, script).map_err(at(&part))?;
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        fs::set_permissions(&part, fs::Permissions::from_mode(0o755)).map_err(at(&part))?;
    }
    fs::rename(&part, path).map_err(at(path))
}
