package main

import (
	"context"
	"log/slog"

	"weighbeam/app/demo"
)

type demoCmd struct {
	Data   string  `help:"Folder of the demo." default:"demo-data" type:"path" placeholder:"FOLDER"`
	Listen string  `help:"Address of the pages, on this machine." default:"127.0.0.1:8640" placeholder:"ADDRESS"`
	Speed  float64 `help:"How many times as fast as your clock its clock runs." default:"60"`
	Seed   uint64  `help:"Which house, when the folder is new." default:"1"`
}

func (d demoCmd) Run(ctx context.Context, t terminal) error {
	return demo.Run(ctx, demo.Options{Folder: d.Data, Listen: d.Listen, Speed: d.Speed, Seed: d.Seed,
		Out: t.out, Log: logger(t.err, slog.LevelWarn), Version: version})
}
