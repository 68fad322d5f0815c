"""A disk that forgets: the system calls of a program, as strace recorded them, played on files and folders of which only
what was synced is safe.

What a loss of power may leave, as POSIX allows it and disks do it:
- of the writes since a file's last sync, any are there, are not, or are there for some of their sectors (512 bytes);
- of the names made, changed or removed since the folder's last sync, the first few are (a file system's own journal
  keeps their order), also where the file's bytes are not.
"""

import os
import re
import subprocess

SECTOR = 512
CALLS = (
    "open,openat,creat,close,dup,dup2,dup3,fcntl,lseek,write,pwrite64,writev,pwritev,ftruncate,truncate,fallocate,fsync,fdatasync,"
    "copy_file_range,sendfile,rename,renameat,renameat2,unlink,unlinkat,link,linkat,exit_group"
)


def record(command, folder, trace, env):
    """Runs `command` in `folder`; its finished run. The calls go to the file `trace`."""
    strace = ["strace", "-f", "-qq", "-xx", "-s", "99999999", "-e", f"trace={CALLS}", "-e", "signal=none", "-o", trace]
    return subprocess.run(strace + command, cwd=folder, env=env, capture_output=True, timeout=300)


LINE = re.compile(r"^(\d+) +(.*)$")
CALL = re.compile(r"^(\w+)\((.*)\) += (-?\d+)", re.S)


def calls(trace):
    """(name, arguments as text, result) of each call that did not fail, in the order in which they returned."""
    begun = {}
    with open(trace) as lines:
        for line in lines:
            thread, text = LINE.match(line.rstrip("\n")).groups()
            if text.endswith("<unfinished ...>"):
                begun[thread] = text[: -len("<unfinished ...>")].rstrip()
                continue
            resumed = re.match(r"<\.\.\. \w+ resumed>,? ?(.*)$", text, re.S)
            if resumed:
                text = begun.pop(thread) + resumed.group(1)
            if text.startswith("exit_group("):
                yield "exit_group", [text[len("exit_group(") :].split(")")[0]], 0
            found = CALL.match(text)
            if found and int(found.group(3)) >= 0:
                yield found.group(1), arguments(found.group(2)), int(found.group(3))


def arguments(text):
    """Split at the commas outside quotes and brackets."""
    parts, depth, quoted, start = [], 0, False, 0
    for at, c in enumerate(text):
        if c == '"':
            quoted = not quoted
        elif not quoted and c in "[{(":
            depth += 1
        elif not quoted and c in "]})":
            depth -= 1
        elif not quoted and depth == 0 and c == ",":
            parts.append(text[start:at].strip())
            start = at + 1
    return parts + [text[start:].strip()]


def unquoted(text):
    """The bytes of strace's string, which -xx writes as \\x.. throughout."""
    body = text[text.index('"') + 1 : text.rindex('"')]
    return bytes.fromhex(body.replace("\\x", ""))


class File:
    def __init__(self, content=b""):
        self.now = bytearray(content)
        self.safe = bytes(content)
        self.unsynced = []  # (offset, bytes) or ("size", n)

    def write(self, at, data):
        apply(self.now, (at, data))
        self.unsynced.append((at, data))

    def resize(self, size):
        apply(self.now, ("size", size))
        self.unsynced.append(("size", size))

    def sync(self):
        self.safe, self.unsynced = bytes(self.now), []


def apply(content, change):
    at, data = change
    if at == "size":
        del content[data:]
        content.extend(bytes(data - len(content)))
        return
    if len(content) < at + len(data):
        content.extend(bytes(at + len(data) - len(content)))
    content[at : at + len(data)] = data


class Disk:
    """The files of one folder and those below it. `safe` holds the names that are sure to be there."""

    def __init__(self, folder):
        self.folder = os.path.realpath(folder)
        self.names = {}
        for place, _, files in os.walk(self.folder):
            for name in files:
                path = os.path.join(place, name)
                with open(path, "rb") as file:
                    self.names[path] = File(file.read())
        self.safe = dict(self.names)
        self.unsynced = []  # (path, File or None), in order
        self.open = {}  # descriptor: [path, File or None, position, appends]
        self.printed = b""
        self.ended = False

    def rename(self, folder):
        """The same files, in the folder that the calls name."""
        moved = {os.path.join(folder, self.below(path)): file for path, file in self.names.items()}
        self.folder, self.names, self.safe = folder, moved, dict(moved)

    def path(self, text, base="AT_FDCWD"):
        name = os.fsdecode(unquoted(text))
        start = self.folder if base.startswith("AT_FDCWD") else self.open.get(int(base), ["/"])[0]
        return os.path.normpath(os.path.join(start, name))

    def mine(self, path):
        return path.startswith(self.folder + os.sep)

    def name(self, path, file):
        if not self.mine(path):
            return False
        if file is None:
            self.names.pop(path, None)
        else:
            self.names[path] = file
        self.unsynced.append((path, file))
        return True

    def play(self, call, args, result):
        """Does what the call did; whether something is different on the disk, or was told."""
        if call in ("open", "openat", "creat"):
            base, rest = ("AT_FDCWD", args) if call != "openat" else (args[0], args[1:])
            flags = rest[1] if call != "creat" else "O_CREAT|O_TRUNC"
            path = self.path(rest[0], base)
            changed = False
            if self.mine(path) and path not in self.names and "O_CREAT" in flags:
                changed = self.name(path, File())
            elif path in self.names and "O_TRUNC" in flags and self.names[path].now:
                self.names[path].resize(0)
                changed = True
            self.open[result] = [path, self.names.get(path), 0, "O_APPEND" in flags]
            return changed
        if call == "fcntl" and not args[1].startswith("F_DUPFD"):
            return False
        if call in ("dup", "dup2", "dup3", "fcntl"):
            # Both descriptors share one position.
            self.open[result] = self.open.get(int(args[0]), ["/", None, 0, False])
            return False
        if call == "close":
            self.open.pop(int(args[0]), None)
            return False
        if call == "exit_group":
            self.ended = args[0] == "0"
            return True
        if call in ("rename", "renameat", "renameat2"):
            old, new = (self.path(args[0]), self.path(args[1])) if call == "rename" else (
                self.path(args[1], args[0]), self.path(args[3], args[2]))
            file = self.names.get(old)
            if file is None or old == new:
                return False
            # One change for both names: never neither.
            self.names.pop(old)
            self.names[new] = file
            self.unsynced.append((new, file, old))
            return True
        if call in ("link", "linkat"):
            old, new = (self.path(args[0]), self.path(args[1])) if call == "link" else (
                self.path(args[1], args[0]), self.path(args[3], args[2]))
            return old in self.names and self.name(new, self.names[old])
        if call in ("unlink", "unlinkat"):
            path = self.path(args[0]) if call == "unlink" else self.path(args[1], args[0])
            return path in self.names and self.name(path, None)
        if call == "truncate":
            file = self.names.get(self.path(args[0]))
            return bool(file) and (file.resize(int(args[1])) or True)
        return self.on_descriptor(call, args, result)

    def on_descriptor(self, call, args, result):
        number = int(args[0])
        if call == "write" and number == 1 and 1 not in self.open:
            self.printed += unquoted(args[1])[:result]
            return True
        if call == "copy_file_range":
            number = int(args[2])
        opened = self.open.get(number)
        if opened is None:
            return False
        if call in ("fsync", "fdatasync"):
            if opened[1] is not None:
                opened[1].sync()
            else:
                self.sync_folder(opened[0])
            return True
        file = opened[1]
        if file is None:
            return False
        if call == "lseek":
            opened[2] = result
            return False
        if call == "ftruncate":
            file.resize(int(args[1]))
        elif call == "pwrite64":
            file.write(int(args[3]), unquoted(args[1])[:result])
        elif call == "write":
            at = len(file.now) if opened[3] else opened[2]
            file.write(at, unquoted(args[1])[:result])
            opened[2] = at + result
        elif call == "fallocate":
            end = int(args[2]) + int(args[3])
            if end > len(file.now):
                file.resize(end)
        elif call in ("copy_file_range", "sendfile"):
            source = self.open[int(args[0 if call == "copy_file_range" else 1])]
            if source[1] is not None:
                data = bytes(source[1].now[source[2] : source[2] + result])
            else:
                with open(source[0], "rb") as outside:
                    outside.seek(source[2])
                    data = outside.read(result)
            source[2] += result
            file.write(opened[2], data)
            opened[2] += result
        else:
            raise AssertionError(f"{call} on a file is not modelled")
        return True

    def sync_folder(self, folder):
        here = [change for change in self.unsynced if os.path.dirname(change[0]) == folder]
        self.unsynced = [change for change in self.unsynced if os.path.dirname(change[0]) != folder]
        self.safe = named(self.safe, here)

    def left(self, random=None, everything=False):
        """What lies there after the power came back: {path below the folder: bytes}. With neither, what is safe."""
        if everything:
            return {self.below(path): bytes(file.now) for path, file in self.names.items()}
        changes = self.unsynced[: random.randint(0, len(self.unsynced))] if random else []
        names = named(self.safe, changes)
        contents = {}
        for file in set(names.values()):
            content = bytearray(file.safe)
            for change in file.unsynced if random else []:
                what = random.choice(("there", "gone", "torn"))
                if what == "there" or (what == "torn" and change[0] == "size" and random.random() < 0.5):
                    apply(content, change)
                elif what == "torn" and change[0] != "size":
                    at, data = change
                    for start in range(at - at % SECTOR, at + len(data), SECTOR):
                        if random.random() < 0.5:
                            first, last = max(start, at), min(start + SECTOR, at + len(data))
                            apply(content, (first, data[first - at : last - at]))
            contents[file] = bytes(content)
        return {self.below(path): contents[file] for path, file in names.items()}

    def below(self, path):
        return os.path.relpath(path, self.folder)


def named(names, changes):
    names = dict(names)
    for path, file, *moved_from in changes:
        for old in moved_from:
            names.pop(old, None)
        if file is None:
            names.pop(path, None)
        else:
            names[path] = file
    return names
