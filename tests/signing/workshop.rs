//! A temporary folder with stock OpenSSH at hand: keys of any kind, an agent, and its own verdicts.

use std::fs;
use std::io::Write as _;
use std::os::unix::fs::PermissionsExt as _;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::time::{Duration, Instant};

use tempfile::TempDir;
use underlit::signing::{Armour, Asking, Namespace, PublicKey, Toolbox};

/// A statement much like those that are signed.
pub(crate) const STATEMENT: &[u8] =
    b"{\"book\":\"quay-lights\",\"project\":\"bar-front\",\"thickness_um\":20000}\n";

/// A folder that is gone when the test ends.
pub(crate) struct Workshop {
    folder: TempDir,
}

impl Workshop {
    pub(crate) fn new() -> Self {
        Self { folder: tempfile::Builder::new().prefix("signing-test-").tempdir().unwrap() }
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub(crate) fn write(&self, name: &str, bytes: impl AsRef<[u8]>) -> PathBuf {
        let path = self.path(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(&path, bytes).unwrap();
        path
    }

    /// A script that the tests may run.
    pub(crate) fn script(&self, name: &str, text: &str) -> PathBuf {
        let path = self.write(name, text);
        fs::set_permissions(&path, fs::Permissions::from_mode(0o700)).unwrap();
        path
    }

    /// A key made by stock `ssh-keygen`: its file, with `.pub` beside it.
    pub(crate) fn stock_key(&self, name: &str, kind: &[&str], passphrase: &str) -> PathBuf {
        let path = self.path(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        let mut command = self.stock("ssh-keygen");
        command.arg("-q").arg("-t").args(kind).args(["-N", passphrase, "-C", "bench", "-f"]).arg(&path);
        succeeded(&mut command);
        path
    }

    pub(crate) fn ed25519(&self, name: &str) -> PathBuf {
        self.stock_key(name, &["ed25519"], "")
    }

    pub(crate) fn p256(&self, name: &str) -> PathBuf {
        self.stock_key(name, &["ecdsa", "-b", "256"], "")
    }

    /// A toolbox that can ask nobody and has no agent.
    pub(crate) fn toolbox(&self) -> Toolbox<'static> {
        Toolbox::new(self.folder.path(), None, Asking::Never)
    }

    /// The same on a machine without OpenSSH's programs.
    pub(crate) fn bare_toolbox(&self) -> Toolbox<'static> {
        let missing = self.path("not-installed");
        Toolbox { ssh_keygen: missing.join("ssh-keygen"), ssh_add: missing.join("ssh-add"), ..self.toolbox() }
    }

    /// A stock program without any of the environment's keys, prompts or agents.
    pub(crate) fn stock(&self, program: &str) -> Command {
        let mut command = Command::new(program);
        command
            .env_remove("SSH_AUTH_SOCK")
            .env_remove("SSH_ASKPASS")
            .env_remove("DISPLAY")
            .env("SSH_ASKPASS_REQUIRE", "never")
            .env("HOME", self.folder.path())
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped());
        command
    }

    /// A signature made by stock `ssh-keygen -Y sign`.
    pub(crate) fn stock_signature(&self, key: &Path, namespace: &Namespace, bytes: &[u8]) -> Vec<u8> {
        self.stock_signature_with(key, namespace, bytes, &[])
    }

    pub(crate) fn stock_signature_with(
        &self,
        key: &Path,
        namespace: &Namespace,
        bytes: &[u8],
        options: &[&str],
    ) -> Vec<u8> {
        let mut command = self.stock("ssh-keygen");
        command.args(["-Y", "sign"]).args(options).arg("-n").arg(namespace.as_str()).arg("-f").arg(key);
        let output = fed(&mut command, bytes);
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        output.stdout
    }

    /// Whether stock `ssh-keygen -Y verify` takes the signature, by the allowed-signers text.
    pub(crate) fn stock_verdict(
        &self,
        allowed: &str,
        principal: &str,
        namespace: &Namespace,
        bytes: &[u8],
        signature: &[u8],
    ) -> bool {
        let allowed = self.write("allowed", allowed);
        let file = self.write("statement.sig", signature);
        let mut command = self.stock("ssh-keygen");
        command.args(["-Y", "verify", "-I", principal, "-n", namespace.as_str(), "-f"]);
        command.arg(allowed).arg("-s").arg(file);
        fed(&mut command, bytes).status.success()
    }

    /// The same for a key alone.
    pub(crate) fn stock_accepts(
        &self,
        key: &PublicKey,
        namespace: &Namespace,
        bytes: &[u8],
        signature: &[u8],
    ) -> bool {
        self.stock_verdict(&format!("mara {key}\n"), "mara", namespace, bytes, signature)
    }

    pub(crate) fn agent(&self) -> Agent {
        Agent::start(self)
    }
}

/// A real `ssh-agent`, ended when dropped.
pub(crate) struct Agent {
    child: Child,
    pub(crate) socket: PathBuf,
}

impl Agent {
    fn start(workshop: &Workshop) -> Self {
        let socket = workshop.path("agent");
        let mut command = workshop.stock("ssh-agent");
        let mut child = command.arg("-D").arg("-a").arg(&socket).spawn().unwrap();
        let end = Instant::now() + Duration::from_secs(10);
        while !socket.exists() {
            if Instant::now() > end {
                child.kill().unwrap();
                panic!("ssh-agent did not start");
            }
            std::thread::sleep(Duration::from_millis(10));
        }
        Self { child, socket }
    }

    /// `ssh-add` with these arguments.
    pub(crate) fn add(&self, workshop: &Workshop, arguments: &[&str], key: &Path) {
        let mut command = workshop.stock("ssh-add");
        command.env("SSH_AUTH_SOCK", &self.socket).args(arguments).arg(key);
        succeeded(&mut command);
    }
}

impl Drop for Agent {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Runs a command that must succeed.
pub(crate) fn succeeded(command: &mut Command) -> Output {
    let output = command
        .output()
        .unwrap_or_else(|error| panic!("{command:?}: {error}; install OpenSSH's client programs"));
    assert!(output.status.success(), "{command:?}: {}", String::from_utf8_lossy(&output.stderr));
    output
}

fn fed(command: &mut Command, bytes: &[u8]) -> Output {
    let mut child = command.stdin(Stdio::piped()).spawn().unwrap();
    // The program may refuse before it has read everything.
    let _ = child.stdin.take().unwrap().write_all(bytes);
    child.wait_with_output().unwrap()
}

pub(crate) fn public(key: &Path) -> PublicKey {
    let text = fs::read_to_string(format!("{}.pub", key.display())).unwrap();
    PublicKey::from_line(&text).unwrap().0
}

pub(crate) fn engineer() -> Namespace {
    Namespace::of_role("engineer").unwrap()
}

/// A blob in the armour that `ssh-keygen` writes.
pub(crate) fn armoured(blob: &[u8]) -> Vec<u8> {
    use base64ct::Encoding as _;
    let base64 = base64ct::Base64::encode_string(blob);
    let lines: Vec<&str> =
        base64.as_bytes().chunks(70).map(|line| std::str::from_utf8(line).unwrap()).collect();
    format!("-----BEGIN SSH SIGNATURE-----\n{}\n-----END SSH SIGNATURE-----\n", lines.join("\n")).into()
}

/// The blob in an armour.
pub(crate) fn blob(armour: &Armour) -> Vec<u8> {
    use base64ct::Encoding as _;
    let text = armour.as_str();
    let inner: Vec<&str> = text.lines().filter(|line| !line.starts_with('-')).collect();
    base64ct::Base64::decode_vec(&inner.concat()).unwrap()
}
