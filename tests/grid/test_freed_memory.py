"""Arrays of one site's size, made and freed again and again, cost a worker no new pages of the system."""

import os
import platform
import subprocess
import sys

import pytest

pytest.importorskip("distributed")

_CODE = """
import os, sys
from distributed import default_client
from sowcal.grids.cells import workers

def faults():
    import os
    import resource
    import numpy as np

    def work():
        return [np.ones(11_000) for _ in range(20)]

    work()
    before = resource.getrusage(resource.RUSAGE_SELF).ru_minflt
    for _ in range(50):
        work()
    found = resource.getrusage(resource.RUSAGE_SELF).ru_minflt - before
    return found, int(os.environ["MALLOC_TRIM_THRESHOLD_"])

if __name__ == "__main__":
    if sys.argv[1:] == ["alone"]:
        print(*faults())
        sys.exit()
    before = dict(os.environ)
    with workers(2):
        print(*(n for pair in default_client().run(faults).values() for n in pair))
    print(dict(os.environ) == before)
"""
_LEFT = {"MALLOC_TRIM_THRESHOLD_": "65536", "MALLOC_MMAP_THRESHOLD_": "65536"}


def _told(tmp_path, limits, *how):
    (tmp_path / "called.py").write_text(_CODE)  # workers are spawned, so that the call lies in a file
    environment = {k: v for k, v in os.environ.items() if not k.startswith(("MALLOC_", "PYTHONHASHSEED"))}
    environment |= {"PYTHONPATH": os.pathsep.join(p for p in sys.path if p), **limits}
    call = [sys.executable, str(tmp_path / "called.py"), *how]
    return subprocess.run(call, env=environment, capture_output=True, text=True, check=True).stdout.splitlines()


def _faults(tmp_path, limits):
    """Page faults in each worker, the limits that stand there, and whether the caller's environment is as it was."""
    told, as_it_was = _told(tmp_path, limits)
    numbers = [int(n) for n in told.split()]
    return numbers[::2], set(numbers[1::2]), as_it_was == "True"


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="the limits are those of glibc")
def test_a_worker_uses_freed_memory_again(tmp_path):
    """Page faults as getrusage(2) counts them: 1.8 MB a round is 430 pages of 4 kB, 21,000 where none is kept."""
    kept, limits, as_it_was = _faults(tmp_path, {})
    assert len(kept) == 2
    assert max(kept) < 1_000
    assert limits == {64 * 2**20}
    assert as_it_was
    _, limits, as_it_was = _faults(tmp_path, _LEFT)
    assert limits == {65536}  # what the user asks for goes before
    assert as_it_was


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="the limits are those of glibc")
def test_the_count_tells_the_difference(tmp_path):
    """Where nothing is kept the same rounds have their pages cleared again: else the test above could not fail."""
    (told,) = _told(tmp_path, _LEFT, "alone")
    if (left := int(told.split()[0])) == 0:
        pytest.skip("this system counts no page faults of memory that is handed back")
    assert left > 10_000
