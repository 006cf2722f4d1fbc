"""Sound files as recorders, telephones and cameras write them."""

import av
import numpy as np


def written(path, sound, rate, *, codec="pcm_s16le", layout="mono"):
    """Write mono sound to a file, the same in every channel."""
    channels = {"mono": 1, "stereo": 2, "5.1": 6}[layout]
    with av.open(str(path), "w") as container:
        stream = container.add_stream(codec, rate=rate)
        stream.layout = layout
        for start in range(0, len(sound), 4096):
            whole = np.clip(sound[start : start + 4096] * 32767, -32767, 32767).astype(np.int16)
            frame = av.AudioFrame.from_ndarray(np.repeat(whole, channels)[None], format="s16", layout=layout)
            frame.rate, frame.pts = rate, start
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return path


def pictures(path):
    """Write a second of moving pictures without any sound."""
    with av.open(str(path), "w") as container:
        stream = container.add_stream("mpeg4", rate=10)
        stream.width, stream.height, stream.pix_fmt = 64, 48, "yuv420p"
        for shade in range(10):
            frame = av.VideoFrame.from_ndarray(np.full((48, 64, 3), 20 * shade, np.uint8), format="rgb24")
            container.mux(stream.encode(frame.reformat(format="yuv420p")))
        container.mux(stream.encode(None))
    return path
