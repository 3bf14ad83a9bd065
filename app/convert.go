package app

import (
	"thrum/internal/ffmpeg"
	"thrum/web"
)

// convert is how recordings that the program does not read by itself become WAV:
// by ffmpeg where that is on the path.
func convert() web.Convert {
	tool, err := ffmpeg.Find()
	if err != nil {
		return nil
	}
	return tool.Wav
}
