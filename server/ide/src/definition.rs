//! Where a name is defined.

use crate::bottle;
use crate::cursor::{self, Target};
use crate::document::Document;
use std::ops::Range;

/// The place where a name is defined.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Definition {
    /// In which text.
    pub file: DefinitionFile,
    /// Bytes of that text.
    pub range: Range<usize>,
}

/// The text that defines a name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DefinitionFile {
    /// The document itself.
    Here,
    /// The inventory that it is read against.
    Inventory,
}

impl Document {
    /// Where the bottle or the key at an offset is defined.
    #[must_use]
    pub fn definition(&self, offset: usize) -> Option<Definition> {
        let unit = self.plan_at(offset)?;
        let (index, line, at) = cursor::line_at(&unit, offset)?;
        if let Some(named) = bottle::named(&unit, index, at) {
            return Some(Definition {
                file: DefinitionFile::Inventory,
                range: named.bottle()?.range.clone(),
            });
        }
        let Target::Key(id, _) = cursor::target(&unit, index, line, at)? else {
            return None;
        };
        let key = unit.plan.text.key(id)?;
        let range = unit.range(plan::convert::at(key.line, key.name.span));
        Some(Definition {
            file: DefinitionFile::Here,
            range,
        })
    }
}
