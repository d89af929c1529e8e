package clinicstore

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"volar/internal/score"
	"volar/internal/vault"
)

// Names of the settings.
const (
	settingClinic = "clinic.settings"
	settingBackup = "clinic.last-backup"
)

// BackupEvery is how often a backup is made by itself, as the store is closed.
type BackupEvery string

// The choices; the empty one is BackupDaily.
const (
	BackupDaily  BackupEvery = "daily"
	BackupWeekly BackupEvery = "weekly"
	BackupNever  BackupEvery = "never"
)

// Settings are the clinic's choices. The zero value holds the documented
// defaults.
type Settings struct {
	// LockMinutes is after how many minutes without a key or a touch the window
	// locks; 0 = 10 (common practice).
	LockMinutes int `json:"lock_minutes,omitempty"`
	// Backup is how often a backup is made by itself, BackupFolder where; an
	// empty folder is backups in the store, where the newest KeepBackups stay,
	// 0 = 14. In a folder of the clinic's own nothing is ever removed, since
	// backups of other stores may lie there.
	Backup       BackupEvery `json:"backup,omitempty"`
	BackupFolder string      `json:"backup_folder,omitempty"`
	KeepBackups  int         `json:"keep_backups,omitempty"`
	// Angles is how a range is written down; empty = neutral zero.
	Angles score.Style `json:"angles,omitempty"`
	// KeepYears is after how many years a new client's data are to be removed,
	// unless the therapist says otherwise; 0 is no end.
	KeepYears int `json:"keep_years,omitempty"`
}

func (s Settings) withDefaults() Settings {
	if s.LockMinutes == 0 {
		s.LockMinutes = 10
	}
	if s.Backup == "" {
		s.Backup = BackupDaily
	}
	if s.KeepBackups == 0 {
		s.KeepBackups = 14
	}
	if s.Angles == "" {
		s.Angles = score.NeutralZero
	}
	return s
}

// Check says what is wrong with settings.
func (s Settings) Check() error {
	s = s.withDefaults()
	switch {
	case s.LockMinutes < 1 || s.LockMinutes > 120:
		return fmt.Errorf("the window locks after 1 to 120 minutes, not %d", s.LockMinutes)
	case s.Backup != BackupDaily && s.Backup != BackupWeekly && s.Backup != BackupNever:
		return fmt.Errorf("a backup is made daily, weekly or never, not %q", s.Backup)
	case s.BackupFolder != "" && !filepath.IsAbs(s.BackupFolder):
		return fmt.Errorf("the folder for backups, %q, has to be named from the root", s.BackupFolder)
	case s.KeepBackups < 1 || s.KeepBackups > 1000:
		return fmt.Errorf("1 to 1000 backups can be kept, not %d", s.KeepBackups)
	case s.Angles != score.NeutralZero && s.Angles != score.PlusMinus:
		return fmt.Errorf("%q is no style of angles that is known", s.Angles)
	case s.KeepYears < 0 || s.KeepYears > 100:
		return fmt.Errorf("data are kept for 1 to 100 years or without an end, not %d", s.KeepYears)
	}
	return nil
}

// LockAfter is how long the window may lie still before it locks.
func (s Settings) LockAfter() time.Duration {
	return time.Duration(s.withDefaults().LockMinutes) * time.Minute
}

// Settings returns the clinic's choices, each default written out.
func (s *Store) Settings(ctx context.Context) (out Settings, err error) {
	b, err := s.v.Setting(ctx, settingClinic)
	if err != nil {
		return out, err
	}
	if b != nil {
		if err := json.Unmarshal(b, &out); err != nil {
			return Settings{}.withDefaults(), fmt.Errorf("settings of the clinic: %w", err)
		}
	}
	return out.withDefaults(), nil
}

// PutSettings keeps the clinic's choices, once Check finds nothing.
func (s *Store) PutSettings(ctx context.Context, in Settings) error {
	if err := in.Check(); err != nil {
		return err
	}
	b, err := json.Marshal(in)
	if err != nil {
		return err
	}
	return s.v.PutSetting(ctx, settingClinic, b)
}

// Backup makes a backup now, in the folder that the settings name. progress,
// which may be nil, is told how many pages are copied of how many.
func (s *Store) Backup(ctx context.Context, progress func(done, total int)) (vault.BackupInfo, error) {
	set, err := s.Settings(ctx)
	if err != nil {
		return vault.BackupInfo{}, err
	}
	info, err := s.v.Backup(ctx, vault.BackupOptions{Dir: set.BackupFolder, Progress: progress})
	if err != nil {
		return info, err
	}
	if err := s.v.PutSetting(ctx, settingBackup, []byte(s.opt.Clock().UTC().Format(time.RFC3339))); err != nil {
		return info, err
	}
	if set.BackupFolder != "" {
		return info, nil
	}
	all, err := vault.Backups(filepath.Dir(info.Dir))
	if err != nil {
		return info, err
	}
	for _, old := range all[min(set.KeepBackups, len(all)):] {
		if err := os.RemoveAll(old.Dir); err != nil {
			return info, fmt.Errorf("remove an old backup: %w", err)
		}
	}
	return info, nil
}

// LastBackup is when a backup was made last; zero where none was.
func (s *Store) LastBackup(ctx context.Context) (time.Time, error) {
	b, err := s.v.Setting(ctx, settingBackup)
	if err != nil || b == nil {
		return time.Time{}, err
	}
	t, err := time.Parse(time.RFC3339, string(b))
	if err != nil {
		return t, fmt.Errorf("time of the last backup: %w", err)
	}
	return t, nil
}

// BackupDue says whether a backup is to be made by itself now. A clock that
// was set back makes one due.
func (s *Store) BackupDue(ctx context.Context) (bool, error) {
	if s.opt.ReadOnly {
		return false, nil
	}
	set, err := s.Settings(ctx)
	if err != nil || set.Backup == BackupNever {
		return false, err
	}
	last, err := s.LastBackup(ctx)
	if err != nil {
		return false, err
	}
	// An hour less, so that a clinic that closes at about the same time every
	// day has one every day.
	every := 23 * time.Hour
	if set.Backup == BackupWeekly {
		every = 7*24*time.Hour - time.Hour
	}
	since := s.opt.Clock().Sub(last)
	return since >= every || since < 0, nil
}
