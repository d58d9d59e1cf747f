package main

import (
	"path"

	"chargewright/job"
	"chargewright/system"
)

// shelf is what a job file may speak of: the shipped library, system files
// beside the job, and a practice file laid over the shipped figures. A system
// given on the command line takes the place of the job's own.
func (e *env) jobShelf(beside, systemName, practiceFile string) (job.Shelf, error) {
	s, err := job.Library()
	if err != nil {
		return s, err
	}
	if practiceFile != "" {
		data, err := e.read(practiceFile)
		if err != nil {
			return s, err
		}
		if s.Practice, err = system.Override(s.Practice, practiceFile, data); err != nil {
			return s, err
		}
		for id, own := range s.Own {
			laid, err := system.Override(own(), practiceFile, data)
			if err != nil {
				return s, err
			}
			s.Own[id] = func() *system.Practice { return laid }
		}
	}
	s.System = func(name string) (*system.System, error) {
		if systemName != "" {
			return openSystem(e, systemName)
		}
		if isFile(name) && !path.IsAbs(name) {
			name = path.Join(beside, name)
		}
		return openSystem(e, name)
	}
	return s, nil
}
