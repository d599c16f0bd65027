package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"graftnote/casebook"
	"graftnote/pdf"
	"graftnote/registry"
	"graftnote/schema"
)

// casebookVariable may name the casebook, so that the password of a server need
// not stand in an argument.
const casebookVariable = "GRAFTNOTE_CASEBOOK"

// casebookName is the file of the embedded casebook.
const casebookName = "casebook.db"

// bookFlags say which casebook is meant, and where.
type bookFlags struct {
	settings
	place string
}

// flags registers --casebook and --site; entry adds what reading entries needs.
// There is no --now: a signature's time is the machine's clock.
func (b *bookFlags) flags(c *cobra.Command, entry bool) {
	c.Flags().StringVar(&b.place, "casebook", "", "the casebook: a `file`, or the postgres:// address of a department (default: casebook.db in the site's folder, else here)")
	c.Flags().StringVar(&b.site, "site", "", "site settings: a `file`, or the folder made by 'setup'")
	if entry {
		c.Flags().StringVar(&b.technique, "technique", "", "standing technique of the surgeon: a `file`")
	}
}

// address is where the casebook is. It may hold a password.
func (b *bookFlags) address(a *app) string {
	if b.place != "" {
		a.hintPassword("--casebook", b.place)
		return b.place
	}
	if v := a.env.getenv(casebookVariable); v != "" {
		return v
	}
	if b.site == "" {
		return casebookName
	}
	if info, err := os.Stat(b.site); err == nil && info.IsDir() {
		return filepath.Join(b.site, casebookName)
	}
	return filepath.Join(filepath.Dir(b.site), casebookName)
}

// hintPassword warns of a password in an argument (CWE-214).
func (a *app) hintPassword(flag, address string) {
	if casebook.IsAddress(address) && hasPassword(address) {
		a.print.hint("a password in " + flag + " is seen by every user of this machine; set " + casebookVariable + " or use a pgpass file")
	}
}

// hasPassword looks for one in either form of a server's address.
func hasPassword(address string) bool {
	address = strings.ToLower(address)
	_, rest, _ := strings.Cut(address, ":/")
	user, _, at := strings.Cut(rest, "@")
	return at && strings.Contains(user, ":") || strings.Contains(strings.ReplaceAll(address, " ", ""), "password=")
}

// again is what a next command needs to find the same casebook. The address of a
// server is not repeated.
func (b *bookFlags) again() string {
	out := ""
	for _, x := range []struct{ flag, value string }{{"--site", b.site}, {"--casebook", b.place}} {
		if x.value != "" && !casebook.IsAddress(x.value) {
			out += " " + x.flag + " " + shellWord(filepath.ToSlash(x.value))
		}
	}
	return out
}

// shellWord is a word as a shell reads it back.
func shellWord(word string) string {
	if strings.ContainsAny(word, " '\"$&;()<>|*?`\\") {
		return "'" + strings.ReplaceAll(word, "'", `'\''`) + "'"
	}
	return word
}

// placeName is how a message calls the casebook: never by the address of a
// server.
func placeName(address string) string {
	switch {
	case casebook.IsServer(address):
		return "the PostgreSQL casebook"
	case casebook.IsAddress(address):
		return "the casebook"
	}
	return "the casebook " + filepath.ToSlash(address)
}

// open opens the casebook. The first use that may make one hands in make.
func (b *bookFlags) openBook(ctx context.Context, a *app, o casebook.Options) (*casebook.Casebook, error) {
	address := b.address(a)
	book, err := casebook.Open(ctx, address, o)
	if err != nil {
		return nil, bookFault(placeName(address), err)
	}
	a.hintPlace(address, book, o.ReadOnly)
	return book, nil
}

// hintPlace warns of a place that others may reach, and of a casebook without its
// memory.
func (a *app) hintPlace(address string, book *casebook.Casebook, readOnly bool) {
	if casebook.IsServer(address) {
		if casebook.Unverified(address) {
			a.print.hint("the connection to the casebook's server is not encrypted or the server is not known for certain; sslmode=verify-full in the address asks for both")
		}
		return
	}
	if info, err := os.Stat(address); err == nil {
		a.hintOpen(placeName(address), info)
	}
	if book.Forgot() && !readOnly {
		a.print.hint("no checkpoint is remembered beside the casebook (its .tip is missing): whether its end was cut off can't be told; compare with one that you kept: graftnote casebook check --against FILE")
	}
}

// hintOpen warns of a file with patients or secrets that others may use.
func (a *app) hintOpen(what string, info os.FileInfo) {
	if mode := info.Mode(); mode.IsRegular() && openToOthers(mode) {
		may := "read "
		if mode.Perm()&0o022 != 0 {
			may = "read or change "
		}
		a.print.hint("other users of this machine may " + may + what + "; it is for its owner only (mode 0600)")
	}
}

// withBook opens the casebook, hands it to use, and closes it.
func (b *bookFlags) withBook(a *app, o casebook.Options, use func(context.Context, *casebook.Casebook) error) (err error) {
	ctx := context.Background()
	book, err := b.openBook(ctx, a, o)
	if err != nil {
		return err
	}
	defer func() {
		if closed := book.Close(); closed != nil && err == nil {
			err = bookFault("the casebook", closed)
		}
	}()
	return use(ctx, book)
}

// readSettings opens site and technique as the commands on entries do, with the
// clock of the machine.
func (b *bookFlags) readSettings(a *app) (given, error) {
	b.time = a.env.now()
	return b.settings.open(a)
}

// sealedOptions are what opening a signed entry needs.
func (b *bookFlags) sealedOptions(a *app) schema.Options {
	return schema.Options{Now: a.env.now(), Covers: pdf.Covers, RowColumn: registry.IsColumn}
}

// act is what every signature needs. The zone is the site's, else the one that
// the entry names, else the machine's; the time is given in that zone.
func (a *app) act(k *casebook.Key, zones ...string) casebook.Act {
	zones = append(zones, a.machineZone())
	for _, name := range zones {
		if name == "" || name == "Local" {
			continue
		}
		if z, err := time.LoadLocation(name); err == nil {
			return casebook.Act{Key: k, Now: a.env.now().In(z), Zone: name, Tool: "graftnote " + programVersion()}
		}
	}
	return casebook.Act{Key: k, Now: a.env.now().UTC(), Zone: "UTC", Tool: "graftnote " + programVersion()}
}

// machineZone is the IANA name of the machine's zone, "" when it can't be told:
// then UTC is used, which is never wrong.
func (a *app) machineZone() string {
	if tz := strings.TrimPrefix(a.env.getenv("TZ"), ":"); tz != "" {
		return tz
	}
	target, err := os.Readlink("/etc/localtime")
	if err != nil {
		return ""
	}
	_, name, _ := strings.Cut(filepath.ToSlash(target), "/zoneinfo/")
	return name
}

// siteZone is the zone of the site settings, "" without.
func (g given) siteZone() string {
	if g.options.Site == nil {
		return ""
	}
	return g.options.Site.Zone
}

// bookFaults give each refusal of the casebook its status and the next step. A
// refusal has status 1: something blocks, and nothing was stored.
var bookFaults = []struct {
	err    error
	status int
	hint   string
}{
	{casebook.ErrBlocked, statusBlocked, "'graftnote check' shows what blocks"},
	{casebook.ErrNotShown, statusBlocked, "show it again with --show and sign what you have seen"},
	{casebook.ErrUnanswered, statusBlocked, "mend the entry, or give each point a reason"},
	{casebook.ErrUnconfirmed, statusBlocked, "confirm all prefilled values, or change them in the entry"},
	{casebook.ErrNotTrue, statusBlocked, "affirm each state that is true, or correct the entry"},
	{casebook.ErrAlreadySigned, statusBlocked, "'graftnote correct' and 'graftnote addendum' change a signed note"},
	{casebook.ErrOtherCase, statusBlocked, "check the case identifier in the entry"},
	{casebook.ErrOtherPatient, statusBlocked, "withdraw the note, with the reason 'wrong patient', and write a new case for the right one that names this case under 'replaces-case'"},
	{casebook.ErrSamePerson, statusBlocked, "say 'same person' when the correction changes one of name, birth date, national number and sex, and only then"},
	{casebook.ErrItem, statusBlocked, "leave the lines 'item' as 'graftnote casebook show NOTE --entry' wrote them, or take them out"},
	{casebook.ErrMoved, statusBlocked, "show it again and sign what you have seen"},
	{casebook.ErrUnchanged, statusBlocked, "there is nothing to correct"},
	{casebook.ErrWithdrawn, statusBlocked, "write a new entry with a new case identifier if a note is needed"},
	{casebook.ErrNotAwaiting, statusBlocked, "'graftnote casebook status' shows what awaits a counter-signature"},
	{casebook.ErrSameSigner, statusBlocked, "the responsible surgeon counter-signs, with their own key"},
	{casebook.ErrRole, statusBlocked, "'graftnote keys new --help' shows what each role may do"},
	{casebook.ErrKeyKnown, statusBlocked, "'graftnote keys list' shows it"},
	{casebook.ErrUnknownKey, statusBlocked, "register the key first: graftnote keys add KEYFILE"},
	{casebook.ErrUnvouched, statusBlocked, "a person whose role allows it runs: graftnote keys vouch ID --as KEYFILE; 'graftnote keys list' shows the identifiers"},
	{casebook.ErrVouched, statusBlocked, "'graftnote keys list' shows who vouched"},
	{casebook.ErrNameHeld, statusBlocked, "whoever holds the name registers the key: graftnote keys add NEW.pub --as KEYFILE; 'graftnote keys list' shows the names"},
	{casebook.ErrFounder, statusBlocked, "let that person's role or a colleague vouch, or begin a new casebook; docs/threats.md says how to go on"},
	{casebook.ErrRevokedKey, statusBlocked, "sign with a key in force; 'graftnote keys list' shows them"},
	{casebook.ErrRolledBack, statusBlocked, "keep this file and restore the last backup; 'graftnote casebook check' says what is missing"},
	{casebook.ErrForked, statusBlocked, "keep this file and restore the last backup; 'graftnote casebook check' says what differs"},
	{casebook.ErrOtherCasebook, statusBlocked, ""},
	{casebook.ErrBackup, statusBlocked, "use another copy of the backup"},
	{casebook.ErrText, statusUsage, "write it in a file and give the file"},
	{casebook.ErrTime, statusUsage, ""},
	{casebook.ErrKey, statusUsage, "'graftnote keys show KEYFILE' prints a public key"},
	{casebook.ErrAddress, statusUsage, ""},
	{casebook.ErrNoCase, statusIO, "'graftnote casebook list' shows the cases"},
	{casebook.ErrPassphrase, statusIO, "nobody can open a key or a backup without its passphrase; docs/threats.md says how to go on"},
	{casebook.ErrKeyFile, statusIO, "'graftnote keys new' makes one"},
	{casebook.ErrEmpty, statusIO, "check the place: --site or --casebook names it; the first key makes a new one: graftnote keys add KEYFILE; 'graftnote casebook restore' brings a lost one back"},
	{casebook.ErrNotEmpty, statusIO, ""},
	{casebook.ErrReadOnly, statusIO, "ask for the right to write to it"},
	{casebook.ErrPending, statusIO, "copy the file and the one that ends in -wal together into a folder that you may write to, and open the copy"},
	{casebook.ErrNoRoom, statusIO, "free some space and run the command again; what is stored is not touched"},
	{casebook.ErrNetwork, statusIO, ""},
	{casebook.ErrDamaged, statusIO, "'graftnote casebook check' names the damage"},
	{casebook.ErrNewer, statusIO, "use that version"},
	{casebook.ErrFull, statusIO, "free some space and run the command again"},
	{casebook.ErrDisk, statusIO, "look after the disk before signing again"},
	{casebook.ErrBusy, statusIO, ""},
	{casebook.ErrUnreachable, statusIO, "check the network and the server; nothing can be signed meanwhile"},
	{casebook.ErrOutcomeUnknown, statusIO, "'graftnote casebook show CASE' tells"},
}

// bookFault says in the user's words what the casebook refused. Only texts that
// are known to be free of values are passed on: a driver's own text may quote an
// address or a row.
func bookFault(about string, err error) error {
	if err == nil {
		return nil
	}
	var f *fault
	if errors.As(err, &f) {
		return f
	}
	var wrong casebook.Fault
	if errors.As(err, &wrong) {
		return refusal(about, wrong)
	}
	for _, known := range bookFaults {
		if errors.Is(err, known.err) {
			f := &fault{status: known.status, text: about + ": " + known.err.Error()}
			if known.hint != "" {
				f.hints = []string{known.hint}
			}
			return f
		}
	}
	return &fault{status: statusIO, text: about + ": it could not be used"}
}

// refusal says which case does not hold and by what.
func refusal(about string, wrong casebook.Fault) *fault {
	f := &fault{status: statusBlocked, text: about + ": " + wrong.Error(), hints: []string{"'graftnote casebook check' says all that is wrong; keep the casebook as it is, and restore a backup beside it"}}
	if wrong.Case != "" {
		f.text = fmt.Sprintf("case %s is refused: its statement %d does not hold: %s: %s", wrong.Case, wrong.Index, wrong.Kind, wrong.What)
	}
	return f
}
