#pragma once

#include <memory>

#include <zip.h>

namespace luxdossier::workbook {

struct DiscardArchive {
    void operator()(zip_t* archive) const { zip_discard(archive); }
};
/// An archive that is given up, with what was changed in it, unless it is closed.
using Archive = std::unique_ptr<zip_t, DiscardArchive>;

struct CloseMember {
    void operator()(zip_file_t* opened) const { zip_fclose(opened); }
};
/// A member of an archive that is being read.
using Member = std::unique_ptr<zip_file_t, CloseMember>;

}  // namespace luxdossier::workbook
