package main

import (
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"graftnote/pdf"
	"graftnote/registry"
	"graftnote/schema"
)

// The names that 'setup' gives its files.
const (
	siteName      = "site.yaml"
	techniqueName = "technique.yaml"
	keyName       = "row.key"
)

// settings are the flags that all commands on entries share.
type settings struct {
	technique string
	site      string
	now       string
	time      time.Time
}

func (s *settings) flags(c *cobra.Command) {
	c.Flags().StringVar(&s.site, "site", "", "site settings: a `file`, or the folder made by 'setup'")
	c.Flags().StringVar(&s.technique, "technique", "", "standing technique of the surgeon: a `file`")
	c.Flags().StringVar(&s.now, "now", "", "`time` taken for now (RFC 3339), so that a run can be repeated")
}

// parse refuses a wrong value before any file is opened.
func (s *settings) parse(a *app) error {
	s.time = a.env.now()
	if s.now == "" {
		return nil
	}
	t, err := time.Parse(time.RFC3339, s.now)
	if err != nil {
		return usage("--now is not a time in the form of RFC 3339", "write it as 2026-09-08T18:30:00+01:00")
	}
	s.time = t
	return nil
}

// given is what reading, checking and writing need besides the entry.
type given struct {
	options  schema.Options
	home     string           // folder of the site file
	findings []schema.Finding // about the standing technique
}

// open reads site and technique.
func (s *settings) open(a *app) (given, error) {
	c := given{options: schema.Options{Now: s.time, Covers: pdf.Covers, RowColumn: registry.IsColumn}}
	if s.site != "" {
		path := s.site
		if info, err := os.Stat(path); err == nil && info.IsDir() {
			path = filepath.Join(path, siteName)
		}
		src, err := a.load(input{path: path, shown: schema.Visible(filepath.ToSlash(path))})
		if err != nil {
			return c, unread(path, err)
		}
		site, err := schema.ParseSite(src)
		if err != nil {
			return c, &fault{status: statusIO, text: "the site settings cannot be used: " + err.Error(),
				hints: []string{"'graftnote new --site' prints the settings with their meaning"}}
		}
		c.options.Site, c.home = site, filepath.Dir(path)
	}
	if s.technique != "" {
		src, err := a.load(input{path: s.technique, shown: schema.Visible(filepath.ToSlash(s.technique))})
		if err != nil {
			return c, unread(s.technique, err)
		}
		t := schema.ReadTechnique(src, c.options)
		c.options.Technique = t
		for _, f := range t.Findings {
			if f.Rule != "file-empty" { // all its lines may still be commented out
				c.findings = append(c.findings, f)
			}
		}
	}
	return c, nil
}

// beside is a path of the site file; it counts from that file's folder.
func (c given) beside(path string) string {
	if path == "" || filepath.IsAbs(path) {
		return path
	}
	return filepath.Join(c.home, path)
}
