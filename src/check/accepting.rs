//! The baseline of a run: which file, what it accepts, and writing it anew.

use std::path::{Path, PathBuf};

use super::baseline::{Accepted, Baseline};
use super::copy::{Inputs, Replace, WriteError, may_write, write_whole};
use super::job::Job;
use super::run::RunError;
use super::score::{Accepts, Checked};

/// The baseline of a run.
#[derive(Debug, Default)]
pub(super) struct Accepting {
    /// Its place.
    pub(super) path: Option<PathBuf>,
    baseline: Option<Baseline>,
    writes: bool,
}

impl Accepting {
    /// Reads the baseline at this place, or makes sure that one can be written there.
    pub(super) fn planned(
        path: Option<PathBuf>,
        writes: bool,
        inputs: &Inputs,
    ) -> Result<Accepting, RunError> {
        let Some(path) = path else {
            return if writes { Err(RunError::NoPlaceForBaseline) } else { Ok(Accepting::default()) };
        };
        let is_there = path.symlink_metadata().is_ok();
        let baseline = if writes && !is_there { None } else { Some(Baseline::read(&path)?) };
        if writes {
            may_write(&path, Replace::AnythingButScores, inputs)?;
        }
        Ok(Accepting { path: Some(path), baseline, writes })
    }

    /// The folder from which it names scores, resolved.
    pub(super) fn folder(&self, here: &Path) -> Option<PathBuf> {
        let path = here.join(self.path.as_deref()?);
        Some(path.parent()?.canonicalize().unwrap_or_else(|_| path.clone()))
    }

    pub(super) const fn accepts(&self) -> Accepts<'_> {
        match &self.baseline {
            _ if self.writes => Accepts::All,
            Some(baseline) => Accepts::Baseline(baseline),
            None => Accepts::Nothing,
        }
    }

    /// Writes what stands in these scores; `None` where none was to be written, else how many findings.
    pub(super) fn write(
        &self,
        checked: &[(&Job, Checked)],
        jobs: &[Job],
        inputs: &Inputs,
    ) -> Result<Option<usize>, WriteError> {
        let Some(path) = self.path.as_deref().filter(|_| self.writes) else { return Ok(None) };
        let folder = path.parent().unwrap_or(Path::new(""));
        // Scores that were not checked this time keep what was accepted, as long as they are there.
        let is_kept = |score: &str| {
            jobs.iter().all(|job| job.paths.from_baseline != score) && folder.join(score).is_file()
        };
        let kept = self.baseline.as_ref().map_or_else(Vec::new, |baseline| baseline.of_scores(is_kept));
        let new = checked.iter().flat_map(|(_, checked)| checked.acceptable.iter().cloned());
        let all: Vec<Accepted> = kept.into_iter().chain(new).collect();
        let count = all.len();
        write_whole(path, Baseline::write(all).as_bytes(), Replace::AnythingButScores, inputs)?;
        Ok(Some(count))
    }
}
