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
