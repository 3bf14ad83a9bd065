#!/usr/bin/env python3
"""Make the small sound files that the decoder tests read.

Tools: Python 3.11, numpy 1.24, scipy 1.10, ffmpeg 5.1 (Debian 12).
Usage: files.py FOLDER          (the tests read sound/testdata/files)

The sound is two sines (440 Hz at 0.5, 1250 Hz at 0.25 of full scale) and a little
noise from a fixed seed; the second channel has the opposite sign and half the
size. The uncompressed kinds are written by scipy where it can, by ffmpeg where it
cannot. want.csv holds the samples before they were rounded to each format;
*.ref.wav hold what ffmpeg decodes from the left channel of the lossy files (both
the encoder and this decoder are outside this project).
"""
import os
import struct
import subprocess
import sys

import numpy as np
from scipy.io import wavfile

out = sys.argv[1]
os.makedirs(out, exist_ok=True)
RATE, N = 8000, 400
rng = np.random.default_rng(20260101)
t = np.arange(N) / RATE
mono = 0.5 * np.sin(2 * np.pi * 440 * t) + 0.25 * np.sin(2 * np.pi * 1250 * t) + 0.01 * rng.standard_normal(N)
x = np.column_stack([mono, -0.5 * mono])


def p(name):
    return os.path.join(out, name)


def ffmpeg(*args, data=None):
    return subprocess.run(["ffmpeg", "-nostdin" if data is None else "-y", "-v", "error", "-y", "-bitexact", *args], input=data, check=True, stdout=subprocess.PIPE).stdout


np.savetxt(p("want.csv"), x, fmt="%.17g", delimiter=",", header="left,right at 8000 per second", comments="# ")
wavfile.write(p("u8.wav"), RATE, np.round(x * 128 + 128).clip(0, 255).astype(np.uint8))
wavfile.write(p("s16.wav"), RATE, np.round(x * 2**15).astype(np.int16))
wavfile.write(p("s32.wav"), RATE, np.round(x * 2**31).astype(np.int32))
wavfile.write(p("f32.wav"), RATE, x.astype(np.float32))
wavfile.write(p("f64.wav"), RATE, x)
src = ["-i", p("f64.wav")]
ffmpeg(*src, "-c:a", "pcm_s24le", p("s24.wav"))
ffmpeg(*src, "-c:a", "pcm_f32le", "-rf64", "always", p("rf64.wav"))
ffmpeg(*src, "-c:a", "pcm_s16le", "-ar", "8000", p("bare.wav"))
# An extended header (40 bytes): ffmpeg writes it for more than two channels.
ffmpeg(*src, "-af", "pan=4c|c0=c0|c1=c1|c2=c0|c3=c1", "-c:a", "pcm_f32le", p("ext-f32.wav"))
ffmpeg(*src, "-af", "pan=4c|c0=c0|c1=c1|c2=c0|c3=c1", "-c:a", "pcm_s24le", p("ext-s24.wav"))
open(p("pipe.wav"), "wb").write(ffmpeg(*src, "-c:a", "pcm_f32le", "-f", "wav", "pipe:1"))
ffmpeg(*src, "-c:a", "pcm_mulaw", p("mulaw.wav"))
ffmpeg(*src, "-c:a", "flac", "-sample_fmt", "s16", p("s16.flac"))
ffmpeg(*src, "-c:a", "flac", "-sample_fmt", "s32", "-bits_per_raw_sample", "24", p("s24.flac"))

# The lossy kinds, 0.3 s at 44.1 and 48 kHz, tones only.
for rate, codec, name, extra in [
    (44100, "libmp3lame", "stereo.mp3", ["-b:a", "128k"]),
    (44100, "libmp3lame", "mono.mp3", ["-b:a", "64k", "-ac", "1"]),
    (22050, "libmp3lame", "low.mp3", ["-b:a", "64k", "-ac", "1"]),
    (11025, "libmp3lame", "verylow.mp3", ["-b:a", "32k", "-ac", "1"]),
    (48000, "libopus", "stereo.opus", ["-b:a", "96k"]),
    (48000, "libopus", "mono.opus", ["-b:a", "64k", "-ac", "1"]),
    (48000, "libopus", "voice.opus", ["-b:a", "20k", "-ac", "1", "-application", "voip"]),
    (44100, "libvorbis", "stereo.ogg", []),
    (44100, "aac", "stereo.m4a", ["-b:a", "96k"]),
    (44100, "aac", "bare.aac", ["-b:a", "96k"]),
]:
    n = int(rate * 0.3)
    tt = np.arange(n) / rate
    y = 0.5 * np.sin(2 * np.pi * 440 * tt) + 0.25 * np.sin(2 * np.pi * 1250 * tt)
    raw = np.column_stack([y, -0.5 * y]).astype("<f4")
    if "1" in extra[-1:] or "-ac" in extra:
        raw = y.astype("<f4").reshape(-1, 1)
    ffmpeg("-f", "f32le", "-ar", str(rate), "-ac", str(raw.shape[1]), "-i", "pipe:0", "-c:a", codec, *extra, p(name), data=raw.tobytes())
for name in ["stereo.mp3", "stereo.opus"]:
    raw = ffmpeg("-i", p(name), "-f", "f32le", "pipe:1")
    y = np.frombuffer(raw, "<f4").reshape(-1, 2)
    wavfile.write(p(name + ".ref.wav"), 44100 if "mp3" in name else 48000, np.round(y[:, 0].astype(float) * 2**15).clip(-32768, 32767).astype(np.int16))
