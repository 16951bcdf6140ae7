"""Writing copies while everything goes wrong: each call of the system failing in turn, a kill at any moment, a full file
system, two runs at once. Whatever happens, a place holds what it held before, or the whole new file, and a failure is told.

Needs strace (Debian package of that name) for failing calls, root for a file system of its own; what is not there is said,
and is no pass: with --all it fails.
"""

import argparse
import collections
import json
import os
import pathlib
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time

NOTE = "<note><pitch><step>D</step><octave>%d</octave></pitch><duration>4</duration><type>whole</type></note>"
REST = "<note><rest/><duration>4</duration></note>"


def score(bars):
    """A tuba that plays one loud note too low in every eighth bar."""
    start = (
        "<attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>"
        "<direction><direction-type><dynamics><ff/></dynamics></direction-type></direction>"
    )
    music = [REST if bar % 2 else NOTE % (1 if bar % 8 == 2 else 2) for bar in range(bars)]
    measures = "".join(
        f"<measure number='{bar + 1}'>{start if bar == 0 else ''}{inside}</measure>\n" for bar, inside in enumerate(music)
    )
    return (
        "<?xml version='1.0' encoding='UTF-8'?>\n<score-partwise version='4.0'><part-list><score-part id='P1'>"
        f"<part-name>Tuba</part-name></score-part></part-list><part id='P1'>\n{measures}</part></score-partwise>\n"
    )


class Desk:
    """A folder with a score, and what the outputs are when nothing goes wrong."""

    OUTPUTS = ("new.musicxml", "marked.musicxml", "report.json")

    def __init__(self, lowbrass, bars, folder=None):
        self.lowbrass = lowbrass
        self.folder = pathlib.Path(folder or tempfile.mkdtemp(prefix="writing-"))
        (self.folder / ".git").mkdir(exist_ok=True)
        (self.folder / "score.musicxml").write_text(score(bars))
        self.source = (self.folder / "score.musicxml").read_bytes()
        self.clear()
        done = self.run()
        assert done.returncode == 1, done
        self.new = {name: (self.folder / name).read_bytes() for name in self.OUTPUTS}
        assert b"<octave>1<" not in self.new["new.musicxml"] and b"<octave>1<" in self.source
        self.clear()

    def command(self, force=False):
        new, marked, report = self.OUTPUTS
        command = [str(self.lowbrass), "check", "score.musicxml", "-o", new, "--fix-octaves", "--include-review", "--marked", marked]
        return command + ["--output", f"json={report}", "-q"] + (["--force"] if force else [])

    def run(self, before=(), force=False, **more):
        return subprocess.run([*before, *self.command(force)], cwd=self.folder, capture_output=True, timeout=120, **more)

    def clear(self, old=None):
        for path in self.folder.iterdir():
            if path.name not in (".git", "score.musicxml"):
                path.unlink()
        if old is not None:
            for name in self.OUTPUTS:
                (self.folder / name).write_bytes(old)

    def state(self, old=None):
        """For each output "old", "new" or "broken"; and how many temporary files are left."""
        assert (self.folder / "score.musicxml").read_bytes() == self.source, "the score itself was written to"
        states = []
        for name in self.OUTPUTS:
            path = self.folder / name
            there = path.read_bytes() if path.exists() else None
            # A report also says what became of the copies, so it is whole when it can be read.
            is_new = there == self.new[name] or name.endswith(".json") and there != old and can_be_read(there)
            states.append("new" if is_new else "old" if there == old else "broken")
        left = [path.name for path in self.folder.iterdir() if path.name.startswith(".lowbrass-")]
        return states, len(left)


def can_be_read(report):
    try:
        return json.loads(report)["schema_version"] == 1
    except (TypeError, ValueError):
        return False


def failing_calls(lowbrass):
    """Makes the n-th call of each kind fail, for every n there is; each thread counts its own."""
    if not shutil.which("strace"):
        return "strace is not installed"
    desk = Desk(lowbrass, 64)
    outcomes = collections.Counter()
    # Two threads: the order of their calls is then nearly the same each time, and each is reached.
    environment = {**os.environ, "RAYON_NUM_THREADS": "1"}
    for kinds, error in [
        ("write", "ENOSPC"), ("write", "EIO"), ("fsync", "EIO"), ("openat", "EMFILE"), ("openat", "EACCES"),
        ("rename,renameat,renameat2,link,linkat", "EPERM"), ("fchmod,chmod,fchmodat", "EPERM"), ("read", "EIO"),
        ("statx,fstat,newfstatat", "EIO"), ("lseek", "EINVAL"), ("unlink,unlinkat", "EIO"),
    ]:
        for force in (False, True):
            old = b"what was there before" if force else None
            nth, reached = 0, True
            while reached and nth < 400:
                nth += 1
                desk.clear(old)
                log = desk.folder.parent / f"{desk.folder.name}.strace"
                inject = ["strace", "-f", "-o", str(log), "-e", f"trace={kinds}", "-e", f"inject={kinds}:error={error}:when={nth}"]
                done = desk.run(inject, force, env=environment)
                reached = "(INJECTED)" in log.read_text()
                if not reached:
                    break
                states, left = desk.state(old)
                where = f"{kinds} {nth} {error}{' --force' if force else ''}"
                assert "broken" not in states, f"{where}: {states}"
                assert done.returncode in (0, 1, 2) or before_main(done), f"{where}: {done}"
                assert b"panicked" not in done.stderr and b"please report" not in done.stderr, f"{where}: {done.stderr}"
                if done.returncode == 1:
                    assert states == ["new"] * 3, f"{where}: status 1 and {states}"
                if done.returncode == 2:
                    assert done.stderr.strip(), f"{where}: status 2 and no word"
                if "unlink" not in kinds:
                    assert left == 0, f"{where}: {left} files left"
                outcomes["whole" if states == ["new"] * 3 else "as before" if "new" not in states else "some whole, some as before", done.returncode] += 1
    shutil.rmtree(desk.folder)
    for (what, status), count in sorted(outcomes.items(), key=str):
        print(f"  failing calls: {count:4} times {what}, status {status}")
    print(f"  failing calls: {sum(outcomes.values())} in all")
    return None


def before_main(done):
    """The loader or the start of the runtime gave up before the program began."""
    return done.returncode in (127, 101, -6, 134) and (b"shared" in done.stderr or b"fatal runtime" in done.stderr)


def kills(lowbrass, times):
    """Kills the program at random moments."""
    desk = Desk(lowbrass, 2000)
    begun = time.monotonic()
    desk.clear()
    desk.run()
    whole = time.monotonic() - begun
    outcomes = collections.Counter()
    pick = random.Random(22)
    for index in range(times):
        old = b"what was there before" if index % 2 else None
        desk.clear(old)
        child = subprocess.Popen(desk.command(force=bool(old)), cwd=desk.folder, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        if index % 3 == 0:
            # Any moment at all.
            time.sleep(whole * pick.random() * 1.05)
        else:
            # Around the moments at which files are written.
            names = set(os.listdir(desk.folder))
            while child.poll() is None and set(os.listdir(desk.folder)) == names:
                time.sleep(0.0002)
            time.sleep(0.02 * pick.random() ** 2)
        child.send_signal(signal.SIGKILL)
        status = child.wait()
        states, left = desk.state(old)
        assert "broken" not in states, f"killed at {index}: {states}"
        ended = "was done already" if status == 1 else "killed"
        outcomes[f"{ended}: {states.count('new')} of 3 new, {left} temporary left"] += 1
    shutil.rmtree(desk.folder)
    for what, count in sorted(outcomes.items()):
        print(f"  kills: {count:4} {what}")


def full_disk(lowbrass):
    """A file system that fills up at every size from none to enough."""
    place = pathlib.Path(tempfile.mkdtemp(prefix="full-"))
    if os.geteuid() != 0 or subprocess.run(["mount", "-t", "tmpfs", "-o", "size=4m", "none", place], capture_output=True).returncode:
        return "no right to mount a file system"
    outcomes = collections.Counter()
    try:
        desk = Desk(lowbrass, 600, place)
        room = os.statvfs(place)
        for kept in list(range(0, 200, 4)):
            for old in (None, b"what was there before"):
                desk.clear(old)
                ballast = place / "ballast"
                free = os.statvfs(place).f_bavail * room.f_frsize - kept * 4096
                ballast.write_bytes(b"\0" * max(free, 0))
                done = desk.run(force=old is not None)
                states, left = desk.state(old)
                assert "broken" not in states and left == 0, f"{kept} pages free: {states}, {left} left"
                assert done.returncode == (1 if states == ["new"] * 3 else 2), f"{kept} pages free: {done}"
                assert done.returncode == 1 or b"no room" in done.stderr.lower() or b"space" in done.stderr.lower(), done.stderr
                outcomes[f"{states.count('new')} of 3 new, status {done.returncode}"] += 1
        read_only = subprocess.run(["mount", "-o", "remount,ro", place], capture_output=True).returncode == 0
        if read_only:
            done = desk.run()
            assert done.returncode == 2 and done.stderr.strip(), done
            outcomes["read-only: told, status 2"] += 1
    finally:
        subprocess.run(["umount", place], check=True)
    place.rmdir()
    for what, count in sorted(outcomes.items()):
        print(f"  full disk: {count:4} {what}")
    return None


def two_at_once(lowbrass, times):
    """Two runs that write to the same places."""
    desk = Desk(lowbrass, 200)
    outcomes = collections.Counter()
    for index in range(times):
        force = bool(index % 2)
        desk.clear(b"old" if force else None)
        runs = [subprocess.Popen(desk.command(force), cwd=desk.folder, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) for _ in range(2)]
        statuses = sorted(run.wait() for run in runs)
        states, left = desk.state()
        assert states == ["new"] * 3 and left == 0, f"{index}: {states}, {left} left"
        outcomes[f"statuses {statuses}{' --force' if force else ''}"] += 1
    shutil.rmtree(desk.folder)
    for what, count in sorted(outcomes.items()):
        print(f"  two at once: {count:4} {what}")


def standard_output(lowbrass):
    """A standard output that takes nothing is told; one that nobody reads ends quietly."""
    desk = Desk(lowbrass, 64)
    for arguments in [["check", "score.musicxml"], ["check", "score.musicxml", "-o", "-", "--fix-octaves"],
                      ["check", "score.musicxml", "--format", "json"], ["notes", "score.musicxml"], ["profiles"], ["rules"]]:
        with open("/dev/full", "wb") as full:
            done = subprocess.run([str(lowbrass), *arguments], cwd=desk.folder, stdout=full, stderr=subprocess.PIPE, timeout=60)
        assert done.returncode == 2 and b"standard output" in done.stderr, f"{arguments}: {done}"
    shutil.rmtree(desk.folder)
    print("  standard output: each refusal told")


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--lowbrass", required=True, type=pathlib.Path)
    parser.add_argument("--downloads", help="not used here")
    parser.add_argument("--kills", type=int, default=100)
    parser.add_argument("--all", action="store_true", help="fail where something cannot be looked at")
    arguments = parser.parse_args()
    lowbrass = arguments.lowbrass.resolve()
    standard_output(lowbrass)
    two_at_once(lowbrass, 20)
    kills(lowbrass, arguments.kills)
    missing = [why for why in (full_disk(lowbrass), failing_calls(lowbrass)) if why]
    for why in missing:
        print(f"  NOT LOOKED AT: {why}")
    sys.exit(1 if missing and arguments.all else 0)


if __name__ == "__main__":
    main()
