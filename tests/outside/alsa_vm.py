"""A small virtual machine with the real ALSA sequencer, for machines without one.

Built from Debian packages alone: the generic kernel (the one for clouds has
no sound modules), busybox-static and alsa-utils. Emulated, so that it needs
no privilege; it boots in a few seconds.
"""

import base64
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

# In the order in which they depend on each other.
MODULES = """soundcore snd snd-timer snd-seq-device snd-hrtimer snd-rawmidi snd-seq
snd-seq-midi-event snd-seq-virmidi snd-virmidi snd-seq-dummy""".split()

TOOLS = ["aplaymidi", "arecordmidi", "aseqdump", "aconnect", "amidi"]

INIT = """#!/bin/busybox sh
/bin/busybox --install -s /bin
export PATH=/bin:/usr/bin HOME=/root
mount -t proc proc /proc; mount -t sysfs sys /sys; mount -t devtmpfs dev /dev
mkdir -p /tmp /root /dev/shm
for module in {modules}; do
  case $module in
    snd-virmidi) insmod /modules/$module.ko enable=1,1 index=0,1 midi_devs=4,4;;
    *) insmod /modules/$module.ko;;
  esac || echo "no module $module"
done
cd /root
give() {{ echo "FILE $1"; base64 < "$1"; echo "END"; }}
echo "BEGIN"
. /script
echo "DONE"
poweroff -f
"""


def missing():
    """What this machine lacks, in words, or None."""
    needed = ["qemu-system-x86_64", "aplaymidi", "busybox", "dpkg-deb", "cpio", "strace"]
    lacks = [name for name in needed if shutil.which(name) is None]
    return f"not installed: {', '.join(lacks)}" if lacks else None


def kernel(cache: Path) -> Path:
    """The unpacked package of Debian's generic kernel."""
    home = cache / "kernel"
    if not (home / "ready").exists():
        shutil.rmtree(home, ignore_errors=True)
        home.mkdir(parents=True)
        depends = subprocess.run(
            ["apt-cache", "depends", "linux-image-amd64"], check=True, capture_output=True, text=True
        ).stdout
        package = re.search(r"Depends: (linux-image-\S+)", depends).group(1)
        subprocess.run(["apt-get", "download", package], check=True, cwd=home)
        subprocess.run(["dpkg-deb", "-x", next(home.glob("*.deb")), home], check=True)
        next(home.glob("*.deb")).unlink()
        (home / "ready").touch()
    return home


def libraries(program: Path):
    """What the program loads when it starts."""
    lines = subprocess.run(["ldd", program], capture_output=True, text=True).stdout
    return [Path(found) for found in re.findall(r"(/\S+)", lines)]


def run(cache: Path, programs: dict, files: dict, script: str, seconds=240):
    """Boots, runs the shell script, and gives what it printed and the files
    that it named with `give NAME`."""
    home = kernel(cache)
    root = cache / "root"
    shutil.rmtree(root, ignore_errors=True)
    for folder in ["bin", "usr/bin", "modules", "root", "proc", "sys", "dev", "usr/share", "etc"]:
        (root / folder).mkdir(parents=True, exist_ok=True)
    shutil.copy(shutil.which("busybox"), root / "bin/busybox")
    release = next((home / "lib/modules").iterdir())
    for module in MODULES:
        found = next(release.rglob(f"{module}.ko*"))
        shutil.copy(found, root / "modules" / f"{module}.ko")
    wanted = {f"usr/bin/{tool}": Path(shutil.which(tool)) for tool in TOOLS}
    wanted |= {f"usr/bin/{name}": Path(path) for name, path in programs.items()}
    for place, program in wanted.items():
        shutil.copy(program, root / place)
        for library in libraries(program):
            to = root / library.relative_to("/")
            if not to.exists():
                to.parent.mkdir(parents=True, exist_ok=True)
                shutil.copy(library, to)
    shutil.copytree("/usr/share/alsa", root / "usr/share/alsa")
    for name, data in files.items():
        (root / "root" / name).write_bytes(data)
    (root / "script").write_text(script)
    (root / "init").write_text(INIT.format(modules=" ".join(MODULES)))
    (root / "init").chmod(0o755)
    names = subprocess.run(["find", "."], cwd=root, capture_output=True, check=True).stdout
    archive = subprocess.run(
        ["cpio", "--quiet", "-o", "-H", "newc"], cwd=root, input=names, capture_output=True, check=True
    ).stdout
    initramfs = cache / "initramfs"
    initramfs.write_bytes(archive)
    # qemu: no network, no disk, a serial line for everything.
    command = ["qemu-system-x86_64", "-accel", "tcg,thread=multi", "-smp", "2", "-m", "768"]
    command += ["-kernel", next((home / "boot").glob("vmlinuz*")), "-initrd", initramfs]
    command += ["-append", "console=ttyS0 quiet panic=-1 random.trust_cpu=on", "-nographic"]
    command += ["-no-reboot", "-nic", "none", "-monitor", "none", "-serial", "stdio"]
    done = subprocess.run(
        command, stdin=subprocess.DEVNULL, capture_output=True, text=True, errors="replace", timeout=seconds
    )
    text = done.stdout.replace("\r", "")
    (cache / "console.txt").write_text(text)
    if "DONE" not in text:
        sys.exit(f"the virtual machine did not finish:\n{text[-4000:]}\n{done.stderr[-2000:]}")
    given = {}
    for name, body in re.findall(r"^FILE (\S+)\n(.*?)^END$", text, re.M | re.S):
        given[name] = base64.b64decode(body)
    return re.sub(r"^FILE \S+\n.*?^END\n", "", text, flags=re.M | re.S), given


def cache() -> Path:
    """Where the kernel is kept between runs."""
    target = os.environ.get("SINISTRA")
    home = Path(target).resolve().parent.parent if target else Path("target").resolve()
    home = home / "alsa-vm"
    home.mkdir(parents=True, exist_ok=True)
    return home
