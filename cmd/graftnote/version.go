package main

import (
	"runtime"
	"runtime/debug"

	"github.com/spf13/cobra"

	"graftnote/schema"
)

// version is set by the release build (-ldflags "-X main.version=v1.2.3").
var version string

// programVersion is the release, or what the Go tool knows of a build from
// source.
func programVersion() string {
	if version != "" {
		return version
	}
	if info, ok := debug.ReadBuildInfo(); ok && info.Main.Version != "" && info.Main.Version != "(devel)" {
		return info.Main.Version
	}
	return "from source"
}

func (a *app) versionCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "version",
		Short: "Show the version of graftnote and of its field dictionary",
		Long:  `Shows versions. Nothing is asked of a network.`,
		Args:  needArgs(0, 0, ""),
		RunE: func(*cobra.Command, []string) error {
			a.print.line("graftnote   %s", programVersion())
			a.print.line("dictionary  %d (%s, %s)", schema.Content().Version,
				count(fieldCount(), "field"), count(len(schema.Content().Rules), "rule"))
			a.print.line("built with  %s for %s/%s", runtime.Version(), runtime.GOOS, runtime.GOARCH)
			return nil
		},
	}
}

func fieldCount() (n int) {
	for _, g := range schema.Content().Groups {
		n += len(g.Fields)
	}
	return n
}
