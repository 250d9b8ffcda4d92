"""Gaussian mean lines by scipy.signal.fftconvolve. In: [[cut-off in points, heights], ...]; out: [line, ...]."""
import json
import sys

import numpy as np
from scipy import signal

lines = []
for cutoff, heights in json.load(sys.stdin):
    alpha = np.sqrt(np.log(2) / np.pi)
    reach = int(np.floor(1.4 * cutoff))
    k = np.arange(-reach, reach + 1)
    weights = np.exp(-np.pi * (k / (alpha * cutoff)) ** 2)
    whole = np.concatenate([np.zeros(reach), heights, np.zeros(reach)])
    ones = np.concatenate([np.zeros(reach), np.ones(len(heights)), np.zeros(reach)])
    share = signal.fftconvolve(ones, weights, mode="valid")
    lines.append((signal.fftconvolve(whole, weights, mode="valid") / share).tolist())
json.dump(lines, sys.stdout)
