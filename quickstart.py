"""Make the environment and run oiltrend: two commands, nothing else to install first.

    python3 quickstart.py                   the invented workshop, served on this computer
    python3 quickstart.py test [ARGUMENTS]  the whole test suite; arguments go to pytest

Everything is installed into ``.venv`` beside this file, from ``requirements/`` where every
package is pinned with its hash; the invented data lie in ``.demo-data``. Delete the two
folders and nothing is left. Only the standard library is used here, and the file is kept
readable for old Pythons so that these get a sentence and not a syntax error.
"""

import hashlib
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

OLDEST = (3, 11)
ROOT = Path(__file__).resolve().parent
VENV = ROOT / ".venv"
STAMP = VENV / "made-by-quickstart.json"
DEMO = ROOT / ".demo-data"
PROJECT = ROOT / "pyproject.toml"
LOCKS = {"run": ROOT / "requirements" / "lock.txt",
         "test": ROOT / "requirements" / "lock-test.txt"}


class Stop(Exception):
    """Something the reader has to do first; its text is the sentence they get."""


def say(text):
    """Tell the reader what is going on, apart from what the started program prints."""
    print("quickstart: " + text, file=sys.stderr, flush=True)


def check_python(version):
    """Stop with a clear sentence on a Python that is too old."""
    if tuple(version[:2]) < OLDEST:
        raise Stop("Python {}.{} or newer is needed, this is Python {}.{}. Install a newer one "
                   "and start this file with it.".format(*OLDEST, *version[:2]))


def fingerprint(file):
    """Say in a few letters what would be installed from this file, where, by which Python."""
    parts = (file.read_bytes(), str(ROOT).encode(), sys.version.encode())
    return hashlib.sha256(b"\0".join(parts)).hexdigest()


def read_stamp():
    """Read what this file has installed so far: fingerprints by kind, or None without any."""
    try:
        return json.loads(STAMP.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return None
    except ValueError:  # the machine stopped while it was written
        return {}


def write_stamp(stamp):
    """Write what is installed, in one step, so that a stop in between leaves the old one."""
    part = STAMP.with_suffix(".part")
    part.write_text(json.dumps(stamp, indent=1), encoding="utf-8")
    os.replace(part, STAMP)


def venv_python():
    """Give the environment's own Python."""
    return VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def run(*command, doing):
    """Run one step; when it fails, say which step it was."""
    # Settings of this computer that would send an installation somewhere else.
    away = ("PIP_USER", "PIP_TARGET", "PIP_PREFIX", "PIP_ROOT", "PIP_REQUIRE_HASHES")
    kept = {name: value for name, value in os.environ.items() if name not in away}
    ended = subprocess.run([str(part) for part in command], cwd=str(ROOT), env=kept)
    if ended.returncode != 0:
        raise Stop("{} failed (see above). Nothing outside {} and {} was touched; run the same "
                   "command again to go on.".format(doing, VENV.name, DEMO.name))


def make_venv():
    """Make an empty environment and mark it as ours."""
    if VENV.exists() and read_stamp() is None and any(VENV.iterdir()):
        raise Stop("{} was not made by quickstart.py and is left alone. Move it away or delete "
                   "it, then run this again.".format(VENV))
    say("making .venv with Python {}.{}.{}".format(*sys.version_info[:3]))
    shutil.rmtree(str(VENV), ignore_errors=True)
    VENV.mkdir()
    write_stamp({})
    ended = subprocess.run([sys.executable, "-m", "venv", str(VENV)])
    if ended.returncode != 0:
        raise Stop("this Python cannot make a virtual environment (see above). On Debian and "
                   "Ubuntu: apt install python3-venv.")


def install(kind):
    """Install what the lock file of this kind names, then the project itself; skip if done."""
    stamp = read_stamp() or {}
    changed = [name for name in LOCKS if stamp.get(name) not in (None, fingerprint(LOCKS[name]))]
    # A lock that changed starts afresh, so that what it no longer names is gone as well.
    if not stamp or changed or not venv_python().exists():
        make_venv()
        stamp = {}
    pip = (venv_python(), "-m", "pip", "--disable-pip-version-check", "install", "--quiet",
           "--no-user")
    if kind not in stamp:
        say("installing the packages of {} (a minute or two)".format(LOCKS[kind].name))
        run(*pip, "--require-hashes", "--requirement", LOCKS[kind],
            doing="installing the packages")
        stamp[kind] = fingerprint(LOCKS[kind])
        write_stamp(stamp)
    if stamp.get("project") != fingerprint(PROJECT):
        run(*pip, "--no-deps", "--no-build-isolation", "--editable", ROOT,
            doing="installing oiltrend itself")
        stamp["project"] = fingerprint(PROJECT)
        write_stamp(stamp)


def oiltrend(*arguments):
    """Give the command that runs oiltrend in the environment."""
    return (venv_python(), "-m", "oiltrend") + arguments


def load_demo():
    """Load the invented workshop into its own folder, if it is not there yet."""
    if DEMO.exists():
        return
    # Filled under another name and then renamed: a stop half way leaves no half workshop.
    part = DEMO.with_name(DEMO.name + ".part")
    shutil.rmtree(str(part), ignore_errors=True)
    say("loading the invented workshop into {}".format(DEMO.name))
    run(*oiltrend("demo", "--data", part), doing="loading the invented workshop")
    os.replace(part, DEMO)


def become(*command):
    """Run the last program in place of this one, and end with its exit status."""
    words = [str(part) for part in command]
    os.chdir(str(ROOT))
    if os.name == "posix":  # signals, Ctrl-C among them, then reach it and nothing else
        os.execv(words[0], words)
    program = subprocess.Popen(words)
    while True:
        try:
            return program.wait()
        except KeyboardInterrupt:  # it got the same one and decides for itself
            continue


def main(arguments):
    """Do what was asked and give the exit status."""
    check_python(sys.version_info)
    if not arguments:
        install("run")
        load_demo()
        return become(*oiltrend("serve", "--data", DEMO))
    if arguments[0] == "test":
        install("test")
        return become(venv_python(), "-m", "pytest", *arguments[1:])
    raise Stop("unknown argument '{}'. Use no argument (serve the invented workshop) or "
               "'test'.".format(arguments[0]))


if __name__ == "__main__":
    try:
        sys.exit(main(sys.argv[1:]))
    except Stop as reason:
        say(str(reason))
        sys.exit(2)
