package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"volar/internal/exchange"
	"volar/internal/vault"
)

// lowSpace is when a disk is called nearly full: a year of sessions without
// pictures takes about a tenth of it.
const lowSpace = 1 << 30

// storeFindings look at the stores of both sides from outside, and open one that
// needs no passphrase. What is in them is not looked at, nor is a client named.
func storeFindings(ctx context.Context) []finding {
	var out []finding
	found := 0
	for _, side := range []string{"home", "clinic"} {
		dir, err := vault.DefaultDir(side)
		if err != nil {
			return append(out, finding{What: "store", Detail: sentence(err), Do: "set XDG_DATA_HOME to a folder of your own"})
		}
		if vault.Exists(dir) {
			found++
			out = append(out, storeFinding(ctx, side, dir))
		}
	}
	if found == 0 {
		out = append(out, finding{What: "store", Detail: "none yet", Do: "it is made when the window is first opened"})
	}
	return append(out, diskFinding())
}

func storeFinding(ctx context.Context, side, dir string) finding {
	f := finding{What: side + " store"}
	size, err := folderSize(dir)
	if err != nil {
		f.Detail, f.Do = sentence(err), "see that the folder is yours to read"
		return f
	}
	asked, err := vault.HasPassphrase(dir)
	if err != nil {
		f.Detail, f.Do = sentence(err), "restore a backup: the window offers it"
		return f
	}
	f.Works, f.Detail = true, fmt.Sprintf("%.1f MB", float64(size)/1e6)
	if asked {
		f.Detail += ", opened by a passphrase, not tried"
	} else if v, err := vault.Open(ctx, dir, vault.Options{ReadOnly: true}); err == nil {
		f.Detail += ", opens"
		if err := v.Close(); err != nil {
			f.Works, f.Detail = false, sentence(err)
		}
	} else if errors.Is(err, vault.ErrOlder) {
		f.Detail += ", of an older version: brought up to date when it is next opened"
	} else {
		f.Works, f.Detail, f.Do = false, sentence(err), "open the window, which says more and offers a backup to restore"
	}
	if info, err := os.Stat(dir); err == nil && info.Mode().Perm()&0o077 != 0 {
		f.Do = fmt.Sprintf("others on this computer can look into its folder: chmod 700 %s", dir)
	}
	switch backups, err := vault.Backups(filepath.Join(dir, "backups")); {
	case err != nil && !errors.Is(err, fs.ErrNotExist):
		f.Detail += ", backups cannot be listed"
	case len(backups) == 0:
		f.Detail += ", no backup in its folder"
	default:
		f.Detail += ", last backup " + age(time.Since(backups[0].Made))
	}
	return f
}

func age(d time.Duration) string {
	switch days := int(d.Hours() / 24); {
	case days < 1:
		return "today"
	case days == 1:
		return "a day ago"
	default:
		return fmt.Sprintf("%d days ago", days)
	}
}

func folderSize(dir string) (n int64, err error) {
	err = filepath.WalkDir(dir, func(_ string, e fs.DirEntry, err error) error {
		if err != nil || !e.Type().IsRegular() {
			return err
		}
		info, err := e.Info()
		if errors.Is(err, fs.ErrNotExist) {
			return nil // a log that was just put away
		}
		if err == nil {
			n += info.Size()
		}
		return err
	})
	return n, err
}

// diskFinding is how much room there is where the stores are or will be.
func diskFinding() finding {
	f := finding{What: "disk"}
	dir, err := vault.DefaultDir("home")
	for err == nil {
		if _, err := os.Stat(dir); err == nil || filepath.Dir(dir) == dir {
			break
		}
		dir = filepath.Dir(dir)
	}
	free, err := freeSpace(dir)
	if err != nil {
		f.Detail, f.Do = sentence(err), "see that your data folder can be read"
		return f
	}
	f.Works, f.Detail = true, fmt.Sprintf("%.1f GB free for sessions", float64(free)/1e9)
	if free < lowSpace {
		f.Do = "make room: without it sessions cannot be kept"
	}
	return f
}

// bucketFinding asks the named bucket or folder for its list, which writes
// nothing.
func bucketFinding(ctx context.Context, address string) finding {
	f := finding{What: "bucket", Detail: "none named", Do: "name one with --bucket s3://host/bucket to try it"}
	if address == "" {
		return f
	}
	f.Do = "see the address, the network, and VOLAR_S3_KEY and VOLAR_S3_SECRET"
	a, err := exchange.ParseAddress(address)
	if err != nil {
		f.Detail = sentence(err)
		return f
	}
	b, err := exchange.OpenBucket(a)
	if err != nil {
		f.Detail = sentence(err)
		return f
	}
	defer b.Close()
	ctx, stop := context.WithTimeout(ctx, 10*time.Second)
	defer stop()
	start := time.Now()
	// No file is in this mailbox; that it can be listed is what is asked.
	if _, err := b.List(ctx, "00000000000000000000000000000000"); err != nil {
		f.Detail = sentence(err)
		return f
	}
	return finding{What: "bucket", Works: true, Detail: fmt.Sprintf("answers in %.0f ms", float64(time.Since(start).Microseconds())/1000)}
}
