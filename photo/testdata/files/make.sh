#!/bin/sh
# Makes the small files that the decoders are tested with, from one invented
# picture that looks different from every side. Debian: apt-get install imagemagick
# libimage-exiftool-perl libheif-examples webp. Run in this folder.
set -eu
convert -size 96x64 gradient:'#204060'-'#e0d0a0' -fill '#c02020' -draw 'rectangle 4,4 40,14' \
	-fill '#20c040' -draw 'rectangle 4,14 14,56' -fill '#f0f0f0' -draw 'circle 74,44 74,54' upright.png
for n in 1 2 3 4 5 6 7 8; do
	convert upright.png -quality 95 -sampling-factor 4:4:4 "turned$n.jpg"
	exiftool -q -overwrite_original -n "-Orientation=$n" -FocalLength=4.25 -FocalLengthIn35mmFormat=26 \
		-GPSLatitude=12.5 -GPSLatitudeRef=N -Make=Invented "turned$n.jpg"
	# What the viewer sees, by another program.
	convert "turned$n.jpg" -auto-orient -strip "seen$n.png"
done
cp turned1.jpg exposed.jpg
exiftool -q -overwrite_original -n -Model="Workshop 3" -ExposureTime=0.00833333 -FNumber=1.8 -ISO=64 exposed.jpg
convert upright.png -strip -interlace JPEG -quality 92 -sampling-factor 4:2:0 progressive.jpg
convert upright.png -strip -compress LZW lzw.tif
convert upright.png -strip -depth 16 -compress Zip deep.tif
convert upright.png -strip -colorspace Gray grey.png
convert upright.png -strip -depth 16 deep.png
cwebp -quiet -q 95 upright.png -o lossy.webp
cwebp -quiet -lossless upright.png -o lossless.webp
# Exif alone does not turn a HEIC file; the rotation property does. A telephone writes both.
convert upright.png -filter point -resize 202x136! large.png
convert large.png -quality 95 -sampling-factor 4:4:4 large6.jpg
exiftool -q -overwrite_original -n -Orientation=6 -FocalLength=4.25 -FocalLengthIn35mmFormat=26 large6.jpg
heif-enc -q 95 large6.jpg -o exifonly.heic
rm large6.jpg
heif-enc -q 50 upright.png -o small.heic
python3 rotate_heic.py exifonly.heic turned6.heic 3
heif-convert turned6.heic turned6.heic.png >/dev/null
# Longer than what the decoder looks at for the size, with Exif behind the picture.
convert -size 320x240 -seed 7 plasma:grey60-black -attenuate 0.4 +noise Gaussian -strip late.jpg
exiftool -q -overwrite_original -n -ISO=100 late.jpg
heif-enc -q 92 late.jpg -o late.heic
heif-convert late.heic late.png >/dev/null
rm late.jpg
convert grey.png moving2.png
img2webp -lossy -q 30 upright.png moving2.png -o moving.webp >/dev/null
rm moving2.png
convert upright.png upright.gif
convert upright.png upright.bmp
