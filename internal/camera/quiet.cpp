#include "quiet.h"

#include <opencv2/core/utils/logger.hpp>

void volar_quiet_opencv(void) {
    try {
        cv::utils::logging::setLogLevel(cv::utils::logging::LOG_LEVEL_SILENT);
    } catch (...) {
        // Chatter is no reason to end the process.
    }
}
