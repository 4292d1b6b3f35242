//! Sync over ssh, https and git's own protocol, each with a real server on this machine: OpenSSH's `sshd`, git's
//! `http-backend` behind lighttpd with a certificate of its own authority, and `git daemon`. Every server has its own
//! configuration, listens on the loopback alone, at a port that nobody else has, and ends with its test. It runs as
//! root and as anybody. The packages are installed by `tests/run`.

use std::io::Read as _;
use std::net::{TcpListener, TcpStream};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use serde_json::json;
use underlit::git::{GitError, Repo, UserGit};

use crate::book::{Stage, read, write};
use crate::clones::{Hand, pair, user_git};

/// A server of one test's own.
struct Server {
    child: Child,
    port: u16,
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Server {
    /// Starts a program that listens at a port, and waits until it does.
    fn start(program: &Path, args: &[&str], port: u16) -> Server {
        let started = Command::new(program).args(args).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn();
        let mut child =
            started.unwrap_or_else(|e| panic!("{}: {e}; tests/run installs it", program.display()));
        let begun = Instant::now();
        while TcpStream::connect(("127.0.0.1", port)).is_err() {
            if child.try_wait().unwrap().is_some() || begun.elapsed() > Duration::from_secs(20) {
                let _ = child.kill();
                let mut said = String::new();
                child.stderr.take().unwrap().read_to_string(&mut said).unwrap();
                panic!("{} does not listen: {said}", program.display());
            }
            std::thread::sleep(Duration::from_millis(20));
        }
        Server { child, port }
    }
}

fn free_port() -> u16 {
    TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port()
}

fn says(program: &str, args: &[&str]) -> String {
    let out = Command::new(program).args(args).output().unwrap_or_else(|e| panic!("{program}: {e}"));
    assert!(out.status.success(), "{program} {args:?}: {}", String::from_utf8_lossy(&out.stderr));
    String::from_utf8(out.stdout).unwrap().trim().to_owned()
}

/// A program that is not on everybody's path.
fn beside(name: &str, places: &[&str]) -> PathBuf {
    let found = places.iter().map(|place| Path::new(place).join(name)).find(|path| path.exists());
    found.unwrap_or_else(|| panic!("{name} is missing; tests/run installs it"))
}

fn of_git(name: &str) -> PathBuf {
    Path::new(&says("git", &["--exec-path"])).join(name)
}

fn key(stage: &Stage, name: &str) -> PathBuf {
    let path = stage.path(name);
    says("ssh-keygen", &["-q", "-t", "ed25519", "-N", "", "-f", path.to_str().unwrap()]);
    path
}

/// Two clones by one address that edit, sync, meet and disagree.
fn exchange(stage: &Stage, address: &str, git: &UserGit) {
    let join = |name: &'static str, clock: i64| {
        let at = stage.path(name);
        let repo = Repo::clone(git, address, &at, None).unwrap_or_else(|e| panic!("{address}: {e}"));
        let mut hand = Hand::over(stage, name, repo, clock);
        hand.git = git.clone();
        hand
    };
    let (mut one, mut two) = (join("One", 1_800_200_000), join("Two", 1_800_300_000));
    let bar = "projects/quay/panels/bar.json";
    let set = |hand: &Hand, cct: u32, note: &str| {
        let mut record: serde_json::Value = serde_json::from_str(&read(&hand.at, bar)).unwrap();
        record["cct_k"] = json!(cct);
        write(&hand.at, bar, &format!("{record:#}\n"));
        write(&hand.at, &format!("projects/quay/{note}.txt"), note);
    };
    set(&one, 3000, "one");
    set(&two, 4000, "two");
    assert!(one.sync().pushed);
    let met = two.sync();
    assert!(met.pushed && met.merged && met.opened.len() == 1, "{met:?}");
    let got = one.sync();
    assert!(!got.pushed && got.commits.len() == 2);
    for hand in [&one, &two] {
        assert_eq!(read(&hand.at, "projects/quay/one.txt"), "one");
        assert_eq!(read(&hand.at, "projects/quay/two.txt"), "two");
        stage.clean(&hand.at);
    }
}

/// What a clone from an address fails with.
fn refusal(stage: &Stage, address: &str, git: &UserGit) -> GitError {
    let at = stage.path("refused");
    let _ = std::fs::remove_dir_all(&at);
    Repo::clone(git, address, &at, None).expect_err("refused")
}

/// What is asked of a person never waits for one here, and a clone that was refused leaves nothing.
#[track_caller]
fn is(error: &GitError, code: &str, remedy: &str) {
    assert_eq!(error.code(), code, "{error}");
    assert!(error.remedy().contains(remedy), "{}", error.remedy());
}

#[test]
fn over_ssh() {
    let stage = Stage::new();
    let (hub, rep, _) = pair(&stage);
    drop(rep);
    let (host, mine, stranger) = (key(&stage, "host_key"), key(&stage, "mine"), key(&stage, "stranger"));
    let port = free_port();
    let authorized = stage.path("authorized");
    std::fs::copy(mine.with_extension("pub"), &authorized).unwrap();
    let path = std::env::var("PATH").unwrap();
    let config = stage.path("sshd_config");
    let text = format!(
        "Port {port}\nListenAddress 127.0.0.1\nHostKey {host}\nPidFile none\nAuthorizedKeysFile {authorized}\n\
         StrictModes no\nUsePAM no\nPasswordAuthentication no\nKbdInteractiveAuthentication no\n\
         PermitRootLogin prohibit-password\nSetEnv PATH={path}\nPrintMotd no\n",
        host = host.display(),
        authorized = authorized.display(),
    );
    std::fs::write(&config, text).unwrap();
    if says("id", &["-u"]) == "0" {
        std::fs::create_dir_all("/run/sshd").unwrap(); // where it locks its unprivileged half in
    }
    let sshd = beside("sshd", &["/usr/sbin", "/usr/local/sbin", "/sbin"]);
    let server = Server::start(&sshd, &["-D", "-e", "-f", config.to_str().unwrap()], port);
    let public = std::fs::read_to_string(host.with_extension("pub")).unwrap();
    let known = stage.path("known_hosts");
    std::fs::write(&known, format!("[127.0.0.1]:{port} {public}")).unwrap();
    let git = |identity: &Path, known: &Path| {
        let mut git = user_git(&stage);
        let ssh = format!(
            "ssh -F none -o BatchMode=yes -o IdentitiesOnly=yes -o StrictHostKeyChecking=yes -o IdentityAgent=none \
             -o GlobalKnownHostsFile=none -o UserKnownHostsFile={} -i {}",
            known.display(),
            identity.display()
        );
        git.environment.push(("GIT_SSH_COMMAND".into(), ssh));
        git
    };
    let me = says("id", &["-un"]);
    let address = format!("ssh://{me}@127.0.0.1:{port}{}", hub.display());
    exchange(&stage, &address, &git(&mine, &known));
    stage.sound(&hub);

    let nobody = stage.path("nobody_known");
    std::fs::write(&nobody, "").unwrap();
    is(&refusal(&stage, &address, &git(&mine, &nobody)), "remote-host-unknown", "ssh-keyscan");
    let other = std::fs::read_to_string(stranger.with_extension("pub")).unwrap();
    std::fs::write(&nobody, format!("[127.0.0.1]:{port} {other}")).unwrap();
    is(&refusal(&stage, &address, &git(&mine, &nobody)), "remote-host-unknown", "telephone");
    is(&refusal(&stage, &address, &git(&stranger, &known)), "remote-not-admitted", "check your key");
    is(&refusal(&stage, &format!("{address}-not"), &git(&mine, &known)), "remote-gone", "git remote -v");
    drop(server);
    is(&refusal(&stage, &address, &git(&mine, &known)), "network", "your work is safe here");
}

#[test]
fn over_https() {
    let stage = Stage::new();
    let (hub, rep, _) = pair(&stage);
    drop(rep);
    stage.git(&hub, &["config", "http.receivepack", "true"]);
    let at = |name: &str| stage.path(name).to_str().unwrap().to_owned();
    let new_key = ["-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes"];
    let ssl = |args: &[&str]| drop(says("openssl", args));
    let ca = ["-x509", "-days", "2", "-subj", "/CN=an authority of this test"];
    ssl(&[&["req"], &ca[..], &new_key, &["-keyout", &at("ca.key"), "-out", &at("ca.pem")]].concat());
    ssl(&[
        &["req", "-subj", "/CN=127.0.0.1"],
        &new_key[..],
        &["-keyout", &at("server.key"), "-out", &at("server.csr")],
    ]
    .concat());
    std::fs::write(stage.path("ext"), "subjectAltName=IP:127.0.0.1\n").unwrap();
    ssl(&[
        "x509",
        "-req",
        "-days",
        "2",
        "-in",
        &at("server.csr"),
        "-CA",
        &at("ca.pem"),
        "-CAkey",
        &at("ca.key"),
        "-CAcreateserial",
        "-extfile",
        &at("ext"),
        "-out",
        &at("server.pem"),
    ]);
    std::fs::write(stage.path("people"), "rep:opensesame\n").unwrap();
    let port = free_port();
    let backend = of_git("git-http-backend");
    let root = hub.parent().unwrap().display().to_string();
    let text = format!(
        r#"server.document-root = "{root}/home"
server.bind = "127.0.0.1"
server.port = {port}
server.modules = ( "mod_openssl", "mod_auth", "mod_authn_file", "mod_alias", "mod_setenv", "mod_cgi" )
server.errorlog = "{root}/lighttpd.log"
server.upload-dirs = ( "{root}" )
ssl.engine = "enable"
ssl.pemfile = "{root}/server.pem"
ssl.privkey = "{root}/server.key"
auth.backend = "plain"
auth.backend.plain.userfile = "{root}/people"
auth.require = ( "/git/" => ( "method" => "basic", "realm" => "books", "require" => "valid-user" ) )
alias.url = ( "/git" => "{backend}" )
$HTTP["url"] =~ "^/git" {{
  cgi.assign = ( "" => "" )
  setenv.set-environment = ( "GIT_PROJECT_ROOT" => "{root}", "GIT_HTTP_EXPORT_ALL" => "1", "PATH" => "{path}" )
}}
"#,
        backend = backend.display(),
        path = std::env::var("PATH").unwrap(),
    );
    let config = stage.path("lighttpd.conf");
    std::fs::write(&config, text).unwrap();
    let lighttpd = beside("lighttpd", &["/usr/sbin", "/usr/local/sbin", "/sbin"]);
    let server = Server::start(&lighttpd, &["-D", "-f", config.to_str().unwrap()], port);
    let git = |ca: Option<&str>, password: &str| {
        let mut git = user_git(&stage);
        let helper = format!("!f() {{ echo username=rep; echo password={password}; }}; f");
        let settings = vec![("credential.helper".to_owned(), helper)];
        // What the machine says of its own authorities in the environment would win over a setting.
        git.environment.extend(ca.map(|ca| ("GIT_SSL_CAINFO".to_owned(), at(ca))));
        git.environment.push(("GIT_CONFIG_COUNT".into(), settings.len().to_string()));
        for (nth, (key, value)) in settings.into_iter().enumerate() {
            git.environment.push((format!("GIT_CONFIG_KEY_{nth}"), key));
            git.environment.push((format!("GIT_CONFIG_VALUE_{nth}"), value));
        }
        git
    };
    let address = format!("https://127.0.0.1:{}/git/hub.git", server.port);
    exchange(&stage, &address, &git(Some("ca.pem"), "opensesame"));
    stage.sound(&hub);

    is(&refusal(&stage, &address, &git(None, "opensesame")), "remote-not-trusted", "http.sslCAInfo");
    is(
        &refusal(&stage, &address, &git(Some("ca.pem"), "wrong")),
        "remote-not-admitted",
        "check your key or password",
    );
    let gone = format!("https://127.0.0.1:{port}/git/not.git");
    is(&refusal(&stage, &gone, &git(Some("ca.pem"), "opensesame")), "remote-gone", "git remote -v");
    drop(server);
    is(&refusal(&stage, &address, &git(Some("ca.pem"), "opensesame")), "network", "your work is safe here");
}

#[test]
fn over_gits_own_protocol() {
    let stage = Stage::new();
    let (hub, rep, _) = pair(&stage);
    drop(rep);
    let port = free_port();
    let root = hub.parent().unwrap();
    std::fs::write(hub.join("git-daemon-export-ok"), "").unwrap();
    let args = [
        format!("--base-path={}", root.display()),
        "--enable=receive-pack".into(),
        "--listen=127.0.0.1".into(),
        format!("--port={port}"),
        "--reuseaddr".into(),
        root.display().to_string(),
    ];
    let args: Vec<&str> = args.iter().map(String::as_str).collect();
    let server = Server::start(&of_git("git-daemon"), &args, port);
    let address = format!("git://127.0.0.1:{port}/hub.git");
    let git = user_git(&stage);
    exchange(&stage, &address, &git);
    stage.sound(&hub);
    is(
        &refusal(&stage, &format!("git://127.0.0.1:{port}/One"), &git),
        "remote-not-admitted",
        "may write there",
    );
    drop(server);
    is(&refusal(&stage, &address, &git), "network", "your work is safe here");
}

#[test]
fn over_a_file_address() {
    let stage = Stage::new();
    let (hub, rep, _) = pair(&stage);
    drop(rep);
    exchange(&stage, &format!("file://{}", hub.display()), &user_git(&stage));
    let gone = format!("file://{}-not", hub.display());
    is(&refusal(&stage, &gone, &user_git(&stage)), "remote-gone", "git remote -v");
}
