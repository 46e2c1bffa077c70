"""Joins the frames of tour.mjs, each below its caption: tour.py FOLDER PICTURE"""

import json
import pathlib
import sys

from PIL import Image, ImageDraw, ImageFont

STRIP, TEXT = 76, 34  # pixels, of which a frame has two to a point
COLOURS = 256  # as many as the format has

folder, picture = map(pathlib.Path, sys.argv[1:])
font = ImageFont.load_default(TEXT)


def captioned(frame):
    shot = Image.open(folder / frame["file"]).convert("RGB")
    whole = Image.new("RGB", (shot.width, STRIP + shot.height), "#22313c")
    ImageDraw.Draw(whole).text((28, STRIP / 2), frame["caption"], "white", font, anchor="lm")
    whole.paste(shot, (0, STRIP))
    return whole


frames = json.loads((folder / "frames.json").read_text())
images = [captioned(frame) for frame in frames]
# One palette for all, so that what stays is the same in the next frame and takes no room.
every = Image.new("RGB", (images[0].width, images[0].height * len(images)))
for place, image in enumerate(images):
    every.paste(image, (0, place * image.height))
# Half of it are the commonest colours as they are, so that grey stays grey.
counted = sorted(every.getcolors(every.width * every.height), reverse=True)
common = [channel for _, colour in counted[: COLOURS // 2] for channel in colour]
rest = every.quantize(COLOURS // 2, dither=Image.Dither.NONE).getpalette()
palette = Image.new("P", (1, 1))
palette.putpalette(common + rest)
first, *others = [image.quantize(palette=palette, dither=Image.Dither.NONE) for image in images]
seconds = [frame["seconds"] for frame in frames]
first.save(picture, save_all=True, append_images=others, duration=[round(1000 * s) for s in seconds], loop=0)
print(f"{len(frames)} frames, {sum(seconds)} s, {picture.stat().st_size / 1e6:.2f} MB")
