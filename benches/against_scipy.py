"""Times every way SciPy and NumPy offer to filter a trace with a given kernel, on one thread.

Input: a file of JSON, {"traces": [{"path": file of little-endian doubles, "cutoff": points}], "repeats": n}.
Output: JSON, one object a trace: {"points", "seconds": {way: best}, "line": path of the mean line}.

Each way gives the same result: the sum of weighted heights at all points. The kernel, its spectrum and the
shares at the ends are made before the clock starts, and the division by the shares is left out: both favour
SciPy.
"""
import json
import os
import sys
import time

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[name] = "1"

import numpy as np
from scipy import fft, ndimage, signal


def kernel(cutoff):
    """The Gaussian of ISO 16610-21, cut at 1.4 cut-offs, of sum 1."""
    alpha = np.sqrt(np.log(2) / np.pi)
    reach = int(np.floor(1.4 * cutoff))
    k = np.arange(-reach, reach + 1)
    weights = np.exp(-np.pi * (k / (alpha * cutoff)) ** 2)
    return weights / weights.sum()


def own_rfft(weights, count, most):
    """Overlap and save with blocks of at most `most` points, the kernel's spectrum made beforehand."""
    need = len(weights) - 1
    size = fft.next_fast_len(min(most, count + need), real=True)
    if size <= need:
        return None
    spectrum = fft.rfft(weights, size)
    useful = size - need
    half = need // 2
    blocks = -(-count // useful)

    def run(z):
        if blocks == 1:
            return fft.irfft(fft.rfft(z, size) * spectrum, size)[half:half + count]
        padded = np.zeros((blocks - 1) * useful + size)
        padded[half:half + count] = z
        windows = np.lib.stride_tricks.sliding_window_view(padded, size)[::useful]
        out = fft.irfft(fft.rfft(windows) * spectrum, size)
        return out[:, need:].reshape(-1)[:count]

    return run


def best(run, z, repeats, limit):
    run(z)
    least, until = float("inf"), time.perf_counter() + limit
    for _ in range(repeats):
        start = time.perf_counter()
        run(z)
        least = min(least, time.perf_counter() - start)
        if time.perf_counter() > until:
            break
    return least


def main():
    with open(sys.argv[1], encoding="utf-8") as file:
        order = json.load(file)
    answers = []
    for trace in order["traces"]:
        z = np.fromfile(trace["path"], dtype="<f8")
        weights = kernel(trace["cutoff"])
        reach = len(weights) // 2
        sigma = trace["cutoff"] * np.sqrt(np.log(2)) / (np.pi * np.sqrt(2))
        ways = {
            "scipy.signal.fftconvolve": lambda z: signal.fftconvolve(z, weights, mode="same"),
            "scipy.signal.oaconvolve": lambda z: signal.oaconvolve(z, weights, mode="same"),
            "scipy.ndimage.convolve1d": lambda z: ndimage.convolve1d(z, weights, mode="constant"),
            "scipy.ndimage.gaussian_filter1d":
                lambda z: ndimage.gaussian_filter1d(z, sigma, mode="constant", radius=reach),
            "numpy.convolve": lambda z: np.convolve(z, weights, mode="same"),
        }
        for most in (*(1 << power for power in range(13, 19)), 1 << 30):
            run = own_rfft(weights, len(z), most)
            if run is not None:
                ways[f"scipy.fft.rfft, blocks of {most}" if most < len(z) else "scipy.fft.rfft, whole"] = run
        middle = z.mean()
        reference = ways["scipy.signal.fftconvolve"](z - middle)
        seconds = {}
        for name, run in ways.items():
            if len(z) >= 5e5 and name.split(".")[-1] in ("convolve", "convolve1d", "gaussian_filter1d"):
                seconds[name] = best(run, z, 1, 0.0)
                continue
            gap = np.abs(run(z - middle)[:len(z)] - reference).max()
            assert gap < 1e-9 * np.abs(z - middle).max(), (name, gap)
            seconds[name] = best(run, z, order["repeats"], order["seconds"])
        share = np.convolve(np.ones(min(len(z), 2 * reach + 1)), weights, mode="same")
        if len(z) > len(share):
            ends = np.ones(len(z))
            ends[:reach], ends[len(z) - reach:] = share[:reach], share[len(share) - reach:]
            share = ends
        path = trace["path"] + ".line"
        (reference / share + middle).astype("<f8").tofile(path)
        answers.append({"points": len(z), "seconds": seconds, "line": path})
    json.dump(answers, sys.stdout)


main()
