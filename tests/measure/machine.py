"""What the figures were taken on, for the heads of the reports."""

import os
import platform
import re
import subprocess


def line(command):
    try:
        return subprocess.run(command, capture_output=True, text=True, check=True).stdout.strip().splitlines()[0]
    except (OSError, subprocess.CalledProcessError, IndexError):
        return "not told"


def processor():
    try:
        with open("/proc/cpuinfo") as f:
            return re.search(r"model name\s*:\s*(.*)", f.read()).group(1)
    except (OSError, AttributeError):
        return platform.processor() or platform.machine()


def about(program):
    """Lines of Markdown."""
    return [
        f"- Machine: {processor()}, {os.cpu_count()} cores, {platform.system()} {platform.machine()}",
        f"- Program: {line([program, '--version'])}, built by {line(['rustc', '--version'])}",
    ]
