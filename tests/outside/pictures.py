"""Looks at pictures, in a process of its own: who answers a JACK server in the
same process would miss periods over them.

    python pictures.py colours FILE              -> how many there are
    python pictures.py size FILE                 -> width height
    python pictures.py changed A B L T R B       -> part of that box that differs
"""

import sys

from PIL import Image


def main(what, *words):
    pictures = [Image.open(word).convert("RGB") for word in words[:2] if word.endswith(".png")]
    if what == "colours":
        return len(pictures[0].getcolors(1 << 24))
    if what == "size":
        return "{} {}".format(*pictures[0].size)
    one, other = (picture.crop(tuple(map(int, words[2:]))) for picture in pictures)
    pixels = lambda picture: zip(*[iter(picture.tobytes())] * 3)
    return sum(a != b for a, b in zip(pixels(one), pixels(other))) / (one.width * one.height)


print(main(*sys.argv[1:]))
