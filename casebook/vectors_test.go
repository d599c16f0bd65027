package casebook

import (
	"encoding/hex"
	"fmt"
	"testing"

	"github.com/transparency-dev/merkle/proof"
	"github.com/transparency-dev/merkle/rfc6962"
	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"
)

func unhex(t *testing.T, s string) []byte {
	t.Helper()
	b, err := hex.DecodeString(s)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// RFC 8032 section 7.1, tests 1 and 2, through the key as this package makes it.
func TestKeySignsAsRFC8032(t *testing.T) {
	for _, v := range []struct{ seed, public, message, signature string }{
		{"9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
			"d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a", "",
			"e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b"},
		{"4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
			"3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c", "72",
			"92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00"},
	} {
		k, err := keyFromSeed(unhex(t, v.seed), "Imara Voss", "consultant")
		if err != nil {
			t.Fatal(err)
		}
		public, _, err := parseVerifier(k.Public().Key)
		if err != nil || hex.EncodeToString(public) != v.public {
			t.Errorf("public key %x, %v", public, err)
		}
		if got := hex.EncodeToString(k.sign(unhex(t, v.message))); got != v.signature {
			t.Errorf("signature %s", got)
		}
	}
}

// The reference leaves of the Certificate Transparency code and the roots of the
// first n of them (RFC 6962 section 2.1), through the tree as the casebook grows
// it.
var referenceLeaves = []string{"", "00", "10", "2021", "3031", "40414243", "5051525354555657", "606162636465666768696a6b6c6d6e6f"}

var referenceRoots = []string{
	"e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
	"6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
	"fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
	"aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
	"d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
	"4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
	"76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
	"ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
	"5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
}

func TestTreeGrowsAsRFC6962(t *testing.T) {
	e := edge{hashes: map[int64]tlog.Hash{}}
	empty, err := tlog.TreeHash(0, hashReader{})
	if err != nil || hex.EncodeToString(empty[:]) != referenceRoots[0] {
		t.Errorf("root of 0: %x, %v", empty, err)
	}
	for n, l := range referenceLeaves {
		if e, err = e.grow(tx{}, tlog.RecordHash(unhex(t, l)), func(int64, tlog.Hash) error { return nil }); err != nil {
			t.Fatal(err)
		}
		if got := hex.EncodeToString(e.root[:]); got != referenceRoots[n+1] {
			t.Errorf("root of %d: %s", n+1, got)
		}
	}
}

// The leaf of golang.org/x/mod/sumdb/tlog's own test and the key identifier of
// the note package's documentation.
func TestOtherPackagesVectors(t *testing.T) {
	if got := LeafHash([]byte("hello "), []byte("world")).String(); got != "TszzRgjTG6xce+z2AG31kAXYKBgQVtCSCE40HmuwBb0=" {
		t.Errorf("leaf %s", got)
	}
	const peter = "PeterNeumann+c74f20a3+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW"
	v, err := note.NewVerifier(peter)
	if err != nil || keyID(peter) != fmt.Sprintf("%s+%08x", v.Name(), v.KeyHash()) {
		t.Errorf("identifier %s, %v", keyID(peter), err)
	}
}

// Every proof that the casebook gives holds by an independent implementation of
// RFC 6962 (github.com/transparency-dev/merkle).
func TestProofsHoldElsewhere(t *testing.T) {
	onEachPlace(t, func(t *testing.T, dsn string) {
		ctx := t.Context()
		c, k := opened(t, dsn)
		var checkpoints []string
		for n := range 12 {
			checkpoints = append(checkpoints, sign(t, c, k, fmt.Sprintf("tree-%d", n), n).Checkpoint)
		}
		for n := range 12 {
			p, err := c.Proof(ctx, fmt.Sprintf("tree-%d", n), 1)
			if err != nil {
				t.Fatal(err)
			}
			cp, err := ParseCheckpoint(p.Checkpoint)
			if err != nil {
				t.Fatal(err)
			}
			leaf := rfc6962.DefaultHasher.HashLeaf(append(append([]byte{}, p.Statement...), p.Signature...))
			if err := proof.VerifyInclusion(rfc6962.DefaultHasher, uint64(p.Index), uint64(cp.Size), leaf, slicesOf(p.Inclusion), cp.Root[:]); err != nil {
				t.Errorf("inclusion of %d: %v", p.Index, err)
			}
			g, err := c.ProveGrowth(ctx, checkpoints[n])
			if err != nil {
				t.Fatal(err)
			}
			old, _ := ParseCheckpoint(g.Old)
			now, _ := ParseCheckpoint(g.New)
			if err := proof.VerifyConsistency(rfc6962.DefaultHasher, uint64(old.Size), uint64(now.Size), slicesOf(g.Hashes), old.Root[:], now.Root[:]); err != nil {
				t.Errorf("growth from %d: %v", old.Size, err)
			}
			if err := VerifyGrowth(g, Trust{Keys: []PublicKey{k.Public()}}); err != nil {
				t.Errorf("growth from %d: %v", old.Size, err)
			}
		}
	})
}

func slicesOf(h []tlog.Hash) [][]byte {
	out := make([][]byte, len(h))
	for i := range h {
		out[i] = h[i][:]
	}
	return out
}

// RFC 8785 as published (github.com/cyberphone/json-canonicalization, "weird"):
// keys sort by UTF-16 code units, an emoji before U+FB33; a text is not
// normalised and controls are escaped in their shortest form.
func TestStatementFollowsRFC8785(t *testing.T) {
	s := Statement{Format: Format, Kind: Addendum, Text: "€$\u000f\nA'B\"\\/ A\u030a", Products: map[string]string{
		"\ufb33": "", "\U0001F602": "", "€": "", "ö": "", "\u0080": "", "</script>": "", "1": "", "\r": "", "\n": ""}}
	b, err := s.Encode()
	if err != nil {
		t.Fatal(err)
	}
	want := "{\"case\":\"\",\"casebook\":\"\",\"entry-sha256\":\"\",\"format\":\"graftnote statement 2\",\"kind\":\"addendum\",\"meaning\":\"\",\"previous\":\"\"," +
		"\"products\":{\"\\n\":\"\",\"\\r\":\"\",\"1\":\"\",\"</script>\":\"\",\"\u0080\":\"\",\"ö\":\"\",\"€\":\"\",\"😂\":\"\",\"\ufb33\":\"\"}," +
		"\"revision\":\"0\",\"sequence\":\"0\",\"signed\":\"\",\"signer\":{\"key\":\"\",\"name\":\"\",\"role\":\"\"},\"text\":\"€$\\u000f\\nA'B\\\"\\\\/ A\u030a\",\"zone\":\"\"}"
	if string(b) != want {
		t.Errorf("got  %s\nwant %s", b, want)
	}
}
